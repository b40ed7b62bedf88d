"""What a director reads before approving: the limit in force beside the one that would take its place.

The numbers of both sets are data; their sources stand beside them in the files.
"""

from __future__ import annotations

import pytest

from consult.screens.rules_effects import Effect, effects
from dosing.load import reader
from dosing.rules import rule_set

DEMONSTRATION, CONSERVATIVE = (reader.load_shipped(name) for name in ("demonstration", "conservative"))
ALL_BUT_BLEEDING = "except hemorrhagic"


def told(effect: Effect) -> tuple[str, ...]:
    values = [each.value if each else "no limit" for each in (effect.before, effect.after)]
    return (effect.treatment, effect.what, effect.who, *values)


CHANGES = [
    ("EPINEPHrine push dose", "Least", "adults", "10 mcg", "5 mcg"),
    ("EPINEPHrine push dose", "Doses before an order", "", "5 pushes", "3 pushes"),
    ("phenylephrine push dose", "Doses before an order", "", "5 pushes", "3 pushes"),
    *(
        ("crystalloid bolus", "Guide amount", who, "20 mL/kg, at most 1,000 mL", "10 mL/kg, at most 500 mL")
        for who in ("newborn, infant, small child", "older child, child of unknown weight")  # each has its own source
    ),
    (
        "crystalloid bolus",
        "Most without an order",
        "infant, small child, older child, child of unknown weight (cardiogenic, obstructive)",
        "30 mL/kg, at most 250 mL",
        "20 mL/kg, at most 250 mL",
    ),
    (
        "crystalloid bolus",
        "Total before an order",
        f"children ({ALL_BUT_BLEEDING})",
        "60 mL/kg, at most 3,000 mL",
        "40 mL/kg, at most 2,000 mL",
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


def test_every_number_stands_beside_its_source() -> None:
    stated = [each for effect in effects(DEMONSTRATION, CONSERVATIVE) for each in effect[3:] if each]

    assert len(stated) > 20
    assert all(each.source.text and each.source.mark for each in stated)


def test_a_treatment_that_is_left_out_has_no_limit_any_more_and_a_new_one_had_none() -> None:
    text = DEMONSTRATION.text
    start = text.index("[treatments.atropine]")
    end = text.index("\n# ----", start)
    without = reader.loads(text[:start] + text[end:])

    gone = [effect for effect in effects(DEMONSTRATION, without) if effect.what == "Hard limit"]
    come = [effect for effect in effects(without, DEMONSTRATION) if effect.what == "Hard limit"]

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
