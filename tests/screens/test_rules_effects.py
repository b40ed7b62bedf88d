"""What a director reads before approving: the limit in force beside the one that would take its place.

The numbers of both sets are data; their sources stand beside them in the files.
"""

from __future__ import annotations

import pytest

from consult.screens.rules_aims import aims
from consult.screens.rules_effects import Effect, effects
from dosing.load import reader
from dosing.rules import rule_set

DEMONSTRATION, CONSERVATIVE = (reader.load_shipped(name) for name in ("demonstration", "conservative"))
ALL_BUT_BLEEDING = "except hemorrhagic"


def told(effect: Effect) -> tuple[str, ...]:
    values = [each.value if each else "no limit" for each in (effect.before, effect.after)]
    return (effect.treatment, effect.what, effect.who, *values)


CHANGES = [
    ("EPINEPHrine push dose", "Minimum", "adults", "10 mcg", "5 mcg"),
    ("EPINEPHrine push dose", "Doses before an order", "", "5 pushes", "3 pushes"),
    ("phenylephrine push dose", "Doses before an order", "", "5 pushes", "3 pushes"),
    *(
        ("crystalloid bolus", "Usual amount", who, "20 mL/kg, at most 1,000 mL", "10 mL/kg, at most 500 mL")
        for who in (  # each has its own source
            "infant, small child (except cardiogenic, hemorrhagic)",
            "older child, child of unknown weight (except cardiogenic, hemorrhagic)",
        )
    ),
    (
        "crystalloid bolus",
        "Maximum without an order",
        "infant, small child, older child, child of unknown weight (obstructive)",
        "30 mL/kg, at most 250 mL",
        "20 mL/kg, at most 250 mL",
    ),
    (
        "crystalloid bolus",
        "Total before an order",
        f"infant, small child, older child, child of unknown weight ({ALL_BUT_BLEEDING})",
        "60 mL/kg, at most 3,000 mL",
        "30 mL/kg, at most 1,000 mL",
    ),
    (
        "crystalloid bolus",
        "Total before an order",
        f"adult of unknown weight ({ALL_BUT_BLEEDING})",
        "3,000 mL",
        "2,000 mL",
    ),
]


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: f"{change[0]}: {change[1]}, {change[2] or 'all'}")
def test_each_limit_that_changes_stands_beside_the_old_one(change: tuple[str, ...]) -> None:
    assert change in [told(effect) for effect in effects(DEMONSTRATION, CONSERVATIVE)]


def test_the_other_way_round_old_and_new_change_places() -> None:
    there = {told(effect) for effect in effects(DEMONSTRATION, CONSERVATIVE)}
    back = {told(effect) for effect in effects(CONSERVATIVE, DEMONSTRATION)}

    assert back == {(*effect[:3], effect[4], effect[3]) for effect in there}


@pytest.mark.parametrize("rules", [DEMONSTRATION, CONSERVATIVE], ids=lambda rules: rules.name)
def test_a_set_changes_nothing_against_itself(rules: rule_set.RuleSet) -> None:
    assert effects(rules, rules) == []
    assert aims(rules, rules) == []


def test_a_route_keeps_its_letters_on_the_page() -> None:
    found = {effect.told for effect in effects(DEMONSTRATION, CONSERVATIVE)}

    assert "magnesium sulfate: maximum without an order, for eclampsia, IV or IO" in found


def test_every_number_stands_beside_its_source() -> None:
    stated = [each for effect in effects(DEMONSTRATION, CONSERVATIVE) for each in effect[3:] if each]

    assert len(stated) > 20
    assert all(each.source.text and each.source.mark for each in stated)


def test_a_treatment_that_is_left_out_has_no_limit_any_more_and_a_new_one_had_none() -> None:
    text = DEMONSTRATION.text
    start = text.index("[treatments.atropine]")
    end = text.index("\n# ----", start)
    without = reader.loads((text[:start] + text[end:]).replace('drug = "atropine"', 'drug = "naloxone"'))

    gone = [effect for effect in effects(DEMONSTRATION, without) if effect.what.startswith("Hard limit")]
    come = [effect for effect in effects(without, DEMONSTRATION) if effect.what.startswith("Hard limit")]

    assert {effect.treatment for effect in (*gone, *come)} == {"atropine"}
    assert all(effect.before and not effect.after for effect in gone)
    assert all(effect.after and not effect.before for effect in come)


def test_another_source_of_the_same_number_is_a_change() -> None:
    old = 'count = { value = 5, unit = "pushes", source = "push-syringe" }'
    changed = reader.loads(DEMONSTRATION.text.replace(old, old.replace("push-syringe", "choice"), 1))

    (effect,) = effects(DEMONSTRATION, changed)
    assert told(effect)[1:] == ("Doses before an order", "", "5 pushes", "5 pushes")
    assert effect.before
    assert effect.after
    assert effect.before.source != effect.after.source


def changed_text(old: str, new: str) -> list[Effect]:
    """What changes for patients where one number of the demonstration set does."""
    text = DEMONSTRATION.text
    assert old in text
    changed = reader.loads(text.replace(old, new, 1))
    return [*aims(DEMONSTRATION, changed), *effects(DEMONSTRATION, changed)]


GOALS = "adults, without injury or with pregnancy of 20 weeks; "
GOALS += "adults (except hemorrhagic), with head injury or bleeding cause trauma"
ADULT = '\nbecause = "adult"'
AIMS = [
    (f"floor = 65{ADULT}", f"floor = 70{ADULT}", ("MAP goal", "", GOALS, "65 mmHg", "70 mmHg")),
    (
        "floor = 100",
        "floor = 105",
        ("SBP goal", "", "adult of 50 years, with head injury", "100 mmHg", "105 mmHg"),
    ),
    ("waiting_s = { value = 60", "waiting_s = { value = 90", ("Waiting", "", "", "60 s", "90 s")),
    ("critical_map = { value = 60", "critical_map = { value = 58", ("Critical MAP", "", "", "60 mmHg", "58 mmHg")),
    (
        'danger_low = { value = 40, unit = "beats',
        'danger_low = { value = 42, unit = "beats',
        ("HR alarm", "danger low", "adults", "40 beats per min or less", "42 beats per min or less"),
    ),
    (
        'danger_low = { value = 85, unit = "%"',
        'danger_low = { value = 84, unit = "%"',
        ("SpO2 alarm", "danger low", "", "85 % or less", "84 % or less"),
    ),
]


@pytest.mark.parametrize(("old", "new", "told_as"), AIMS, ids=lambda each: each[0] if isinstance(each, tuple) else None)
def test_a_goal_an_alarm_or_a_waiting_time_that_changes_stands_beside_the_old_one(
    old: str, new: str, told_as: tuple[str, ...]
) -> None:
    (effect,) = changed_text(old, new)

    assert told(effect) == told_as
    assert effect.before
    assert effect.after
    assert effect.before.source.text
    assert effect.after.source.text


def test_a_goal_that_is_left_out_hands_its_patients_to_the_next() -> None:
    """Without its own goal a cord injury is held at the adult's 65."""
    text = DEMONSTRATION.text
    start = text.index('[[goals]]\nname = "cord injury"')
    without = reader.loads(text[:start] + text[text.index("[[goals]]", start + 1) :])

    (effect,) = aims(DEMONSTRATION, without)
    assert told(effect) == ("MAP goal", "", "adults, with spinal cord injury", "75 mmHg", "65 mmHg")


def test_the_time_of_the_reading_that_a_dose_asks_for_is_among_what_changes() -> None:
    rule = "[treatments.epinephrine-push-dose.reassessment]\ndue_min = 2"
    changed = reader.loads(DEMONSTRATION.text.replace(rule, rule.replace("2", "3")))

    (effect,) = effects(DEMONSTRATION, changed)
    assert told(effect)[:3] == ("EPINEPHrine push dose", "Reassess", "")
    assert effect.before
    assert effect.after
    assert "2 min after it was given" in effect.before.value
    assert "3 min after it was given" in effect.after.value
