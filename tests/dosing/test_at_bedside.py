"""The patient at one moment: what runs, what the meter says in a word, and what is not known at all."""

from __future__ import annotations

import pytest

from dosing.check.case import bedside
from dosing.ground.facts import Dose, Latest, Reading
from dosing.ground.phases import PhaseChange
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, ago, check, facts, given

NOREPINEPHRINE = "norepinephrine-infusion"


def test_only_what_runs_of_the_very_treatment_runs():
    doses = (given(NOREPINEPHRINE, 20, 8, "mcg/min", status="running"), given("epinephrine-infusion", 9, 4, "mcg/min"))
    there = bedside(facts(doses=doses), RULES, TEN)

    assert [there.runs(each) for each in (NOREPINEPHRINE, "epinephrine-infusion", "ketamine")] == [True, False, False]


@pytest.mark.parametrize(
    ("minutes_ago", "phase", "found"),
    [(1, "transport", "pressor"), (1, "arrest", ""), (7, "arrest", "pressor")],
)
def test_a_dose_by_name_is_of_the_class_that_it_had_in_its_phase(minutes_ago, phase, found):
    """An arrest from 5 min ago on: what was given before it was given to a patient with a pulse."""
    known = facts(phases=(PhaseChange(id="phase", phase=phase, at=ago(5)),))
    dose = Dose(id="told", treatment="other", name="adrenaline", given_at=ago(minutes_ago), route="IV")

    assert bedside(known, RULES, TEN).class_of(dose) == found
    assert bedside(known, RULES, TEN).class_of(replace(dose, name=None)) == ""


def test_each_route_has_its_person_and_none_is_made_twice():
    there = bedside(facts(), RULES, TEN)

    assert [there.given_by(route).route for route in ("IV", "IM", "IV")] == ["IV", "IM", "IV"]
    assert there.given_by("IV") is there.given_by("IV")
    assert replace(there.given_by("IM"), route="") == there.person


@pytest.mark.parametrize(
    ("flag", "told"),
    [
        ("high", "glucose is not low (the meter says high; wanted under 60)"),
        (None, "glucose not measured; wanted under"),
    ],
)
def test_a_word_of_the_meter_is_told_for_glucose_alone(flag, told):
    known = facts(sbp=120, dbp=80, signs={"glucose_mg_dl": None, "glucose_flag": flag, "rr": None, "hr": None})

    found = [each.text for each in check("dextrose", 10, "g", known).findings if each.code == "signs_missing"]
    slow = [each.text for each in check("atropine", 1, "mg", known).findings if each.code == "signs_missing"]

    assert [each.startswith(told) for each in found] == [True]
    assert not any("meter" in each for each in slow)


def test_alertness_of_before_counts_and_of_after_does_not():
    readings = (Reading(taken_at=ago(9), gcs=7), Reading(taken_at=ago(-2), gcs=15))
    known = replace(facts(signs={"avpu": None}), readings=readings)
    there = bedside(replace(known, latest={**known.latest, "gcs": Latest(15, ago(-2))}), RULES, TEN)

    assert there.response == 7
    assert bedside(facts(signs={"avpu": None}), RULES, TEN).response is None
