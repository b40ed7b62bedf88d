"""What was known at the moment that is asked about: a dose told late is held against what was measured up to then.

The limits are those of the demonstration rules; the sums stand beside the rows.
"""

import pytest

from dosing.ground.facts import Amount, Goal, Latest, Reading
from tests.copying import replace
from tests.dosing.bedside import ago, check, child, codes, facts

PUSH, BOLUS, PHENYLEPHRINE = "epinephrine-push-dose", "crystalloid-bolus", "phenylephrine-push-dose"


def heard(minutes_ago: float, lungs: str) -> Reading:
    return Reading(taken_at=ago(minutes_ago), sbp=70, dbp=40, lungs=lungs)


@pytest.mark.parametrize(
    ("minutes_ago", "found"),
    [(5.1, False), (5, True), (4, True), (3, False)],
    ids=["before they were heard", "as they were heard", "after it", "as they were gone"],
)
def test_crackles_count_from_when_they_were_heard_until_they_are_gone(minutes_ago, found):
    listened = facts(readings=(heard(9, "clear"), heard(5, "crackles"), heard(3, "clear")))
    known = replace(listened, latest={"lungs": Latest("clear", ago(3))})

    assert ("crackles" in codes(check(BOLUS, 100, "mL", known, at=ago(minutes_ago)))) is found


def test_what_is_measured_as_the_dose_is_given_counts():
    known = replace(facts(readings=(heard(0, "crackles"),)), latest={"lungs": Latest("crackles", ago(0))})

    assert "crackles" in codes(check(BOLUS, 100, "mL", known))
    assert "pressure_unknown" not in codes(check(PUSH, 10, "mcg", known))


def test_what_was_measured_later_was_not_known_then():
    (found,) = (one for one in check("dextrose", 10, "g", at=ago(30)).findings if one.code == "signs_missing")

    assert found.text == "glucose not measured; wanted under 60 mg/dL"


@pytest.mark.parametrize(
    ("known", "code", "words"),
    [
        (  # (120 + 160) / 3 = 93.3, 13.3 above 80
            facts(sbp=120, dbp=80, goal=Goal(measure="map", floor=80, because="head injury")),
            "pressure_above_goal",
            "MAP 93, goal 80: already at or above goal",
        ),
        (  # no mean: by the systolic, whose floor is 90
            facts(readings=(Reading(taken_at=ago(1), sbp=130, bp_method="palpated"),)),
            "well_above_goal",
            "systolic 130 by palpation, MAP unknown: 40 mmHg above goal",
        ),
        (  # a systolic goal and a mean alone: by the mean, whose floor is 65
            facts(readings=(Reading(taken_at=ago(1), map_reported=100),), goal=Goal(measure="sbp", floor=110)),
            "well_above_goal",
            "MAP 100, goal 65: 35 mmHg above goal",
        ),
        (  # a systolic goal and both: by the systolic, 120 - 110; the mean stands 28 above its own floor
            facts(sbp=120, dbp=80, goal=Goal(measure="sbp", floor=110)),
            "pressure_above_goal",
            "systolic 120, goal 110: already at or above goal",
        ),
    ],
    ids=["the physician's goal", "palpated", "a mean alone", "a systolic goal"],
)
def test_how_far_above_its_goal_a_pressure_stands(known, code, words):
    found = {one.code: one.text for one in check(PUSH, 10, "mcg", known).findings}

    assert found.get(code) == words


@pytest.mark.parametrize(
    ("treatment", "dose", "known", "missing"),
    [
        (PHENYLEPHRINE, (50, "mcg"), facts(signs={"hr": 60}), False),
        (PHENYLEPHRINE, (50, "mcg"), facts(signs={"hr": 59}), True),
        ("naloxone", (0.4, "mg"), facts(signs={"rr": 14}), True),
        ("naloxone", (0.4, "mg"), facts(child(), signs={"rr": 14}), False),
        ("naloxone", (0.4, "mg"), facts(child(), signs={"rr": 15}), True),
    ],
    ids=["60 beats", "59 beats", "an adult's 14 breaths", "a child's 14", "a child's 15"],
)
def test_a_wanted_sign_at_its_edge(treatment, dose, known, missing):
    """Phenylephrine from 60 beats on; breathing under 12 a minute in an adult, under 15 in a child."""
    stock = {"naloxone": Amount(0.4, "mg/mL")}.get(treatment)

    assert ("signs_missing" in codes(check(treatment, *dose, known, stock=stock))) is missing
