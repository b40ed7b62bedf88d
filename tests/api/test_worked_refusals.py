"""At the edges of age, weight and strength every treatment answers clearly, and what is no dose at all is refused."""

import math

import pytest

from tests.api.conftest import refused
from tests.api.story import Story, codes
from tests.api.test_worked_times import INTERVALS, PUBLISHED, RUNNING
from tests.api.worked import amount
from tests.dosing.bedside import RULES

BY_VOLUME = {slug for slug, treatment in RULES.treatments.items() if treatment.unit in ("mL", "bag")}
ABOVE = {"above_most", "above_hard_limit", "above_guide"}


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


def numbers(value):
    """All numbers of an answer, wherever they stand."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for each in value for number in numbers(each)]
    return [value] if isinstance(value, (int, float)) else []


# Contract: age 0-130 years, weight 0.3-400 kg. A grown-up's usual dose is over the hard limit of a newborn of 300 g
# for every treatment that is not already by weight: by the rules at most 5 mcg/kg, 0.02 mg/kg, 40 mL/kg, 4 mg/kg, ...
def test_a_grown_ups_dose_for_the_lightest_and_the_heaviest(story):
    wrong = []
    for who, beyond in (("0 d 0.3 kg", {"above_hard_limit"}), ("130 y 400 kg", set())):
        story.open(who)
        for treatment, (dose, _) in INTERVALS.items():
            if treatment in RUNNING and who.startswith("0 d"):
                continue
            found = story.check(treatment, dose)
            finite = all(math.isfinite(number) and number >= 0 for number in numbers(found["give"]))
            if (treatment in PUBLISHED and codes(found) & ABOVE != beyond) or not finite:
                wrong.append((who, treatment, sorted(codes(found)), found["give"]))
    assert wrong == []


def units_by_weight(treatment, who):
    """The units per kg in which the rules state it for this patient, an adult where nobody knows the age."""
    known = RULES.treatments[treatment]
    besides = known.units_adult if who.startswith("?") else known.units_child
    return {unit for unit in known.units | besides if "/kg" in unit}


def test_nothing_is_made_up_for_a_weight_that_nobody_knows(story):
    """A dose per kg stays one: no volume, no rate, and the finding ``weight_unknown``."""
    wrong = []
    for who in ("0 d ? kg", "5 y ? kg", "? ? kg"):
        story.open(who)
        for treatment, (usual, _) in INTERVALS.items():
            by_weight = units_by_weight(treatment, who)
            if not by_weight:
                continue  # an adult's vasopressin is in units/min only
            found = story.check(treatment, f"{usual.split(' ')[0]} {min(by_weight)}")
            give = found["give"]
            if "weight_unknown" not in codes(found) or (give["volume"], give["rate"]) != (None, None):
                wrong.append((who, treatment, sorted(codes(found)), give))
    assert wrong == []


def wrongs(story, treatment):
    """What is no dose of this treatment, and what the answer must point at."""
    unit = INTERVALS[treatment][0].split(" ")[1]
    base = unit.split("/")[0]
    other = "10 units/min" if base != "units" else "10 mcg/min"
    strength = f"{base}/mL" if base in ("units", "mEq", "mmol") else "mg/mL"
    substance = "mmol" if base != "mmol" else "mEq"
    yield {"treatment": f"{treatment}-x"}, "/treatment"
    yield {"amount": amount(f"0 {unit}")}, "/amount/value"
    yield {"amount": amount(f"-1 {unit}")}, "/amount/value"
    yield {"amount": amount("1 furlong")}, "/amount/unit"
    yield {"amount": amount(f"1 {substance}")}, "/amount"
    yield {"amount": amount(other)}, "/amount"
    yield {"amount": amount("1 mcg" if treatment in BY_VOLUME | RUNNING else "1 mL")}, "/amount"
    yield {"stock": amount(f"0 {strength}")}, "/stock/value"
    yield {"concentration": amount(f"0 {strength}")}, "/concentration/value"
    yield {"concentration": amount(f"-16 {strength}")}, "/concentration/value"
    yield {"at": story.time(-20 - 1 / 60)}, "/at"
    if treatment not in BY_VOLUME:
        yield {"stock": amount(f"1 {substance}/mL")}, "/stock"
    if treatment in RUNNING:
        yield {"amount": amount("10 mL/h")}, "/concentration"


def test_what_is_no_dose_of_a_treatment_is_refused_where_it_is_wrong(story):
    """Contract: zero, negative, unknown or another kind's unit, and a time before the case: `422` at its place."""
    story.open()
    for treatment, (dose, _) in INTERVALS.items():
        right = {"at": story.time(-20), **story.dose(treatment, dose)}
        assert story.crew.post(f"cases/{story.case}/checks/", right).status_code == 200
        for wrong, pointer in wrongs(story, treatment):
            refused(story.crew.post(f"cases/{story.case}/checks/", right | wrong), 422, "invalid", pointer)


def test_a_dose_from_a_syringe_that_was_mixed_ten_times_too_strong(story):
    """Rules: 1 mg/mL in place of 0.1 mg/mL makes 100 mcg per mL, of which 10 mcg are 0.1 mL; the recipe's are 1 mL."""
    push = "epinephrine-push-dose"
    told = [story.open().check(push, "10 mcg")]
    held = {"form": "syringe", "treatment": push, "strength": amount("100 mcg/mL"), "volume": amount("10 mL")}
    slip = story.posted(f"cases/{story.case}/containers/", {"at": story.time(-1), **held})
    told += [story.check(push, "10 mcg"), story.give(push, "10 mcg", container=slip["id"])["check"]]
    story.posted(f"containers/{slip['id']}/discard/", {"at": story.time(None), "reason": "wrong strength"})
    told.append(story.check(push, "10 mcg"))

    assert [found["give"]["volume"]["value"] for found in told] == [1, 0.1, 0.1, 1]
    assert ["unlisted_strength" in codes(found) for found in told] == [False, True, True, False]
