"""Push doses of a pressor: size, interval, count, total, and the volume to push."""

import pytest

from dosing.ground import text, units
from dosing.ground.facts import Amount, Weight
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, check, child, codes, facts, given, told
from tests.dosing.dosing_values import ROWS, numbers, rows

PUSH = "epinephrine-push-dose"
FLUID = given("crystalloid-bolus", 60, 1, "mL")


def pushes(count: int, value: float = 10, *, last: float = 3, every: float = 3):
    """Pushes of epinephrine, the last one so many minutes ago, after some fluid."""
    return (FLUID, *(given(PUSH, last + every * number, value, "mcg") for number in reversed(range(count))))


@pytest.mark.parametrize(
    ("patient", "micrograms", "verdict"),
    [
        (adult(), 10, "within"),
        (adult(), 20, "within"),
        (adult(), 9.9, "caution"),
        (adult(), 20.1, "needs_order"),
        (adult(), 100, "needs_order"),
        (adult(), 100.1, "over_hard_limit"),
        (adult(None), 20, "within"),
        (child(2, 12), 10, "within"),
        (child(2, 12), 10.1, "needs_order"),
        (child(2, 12), 20, "needs_order"),
        (child(2, 12), 20.1, "over_hard_limit"),
        (child(4, 5, "months"), 5, "within"),
        (child(4, 5, "months"), 5.1, "caution"),
        (child(4, 5, "months"), 10, "caution"),
        (child(1, 3, "months"), 6.1, "needs_order"),
        (child(1, 3, "months"), 15.1, "over_hard_limit"),
        (child(2, 12), 0.9, "caution"),
        (child(12, 50), 20, "within"),
        (child(12, 49.9), 20, "needs_order"),
    ],
    ids=lambda value: f"{value.weight.value} kg" if getattr(value, "weight", None) else str(value)[:20],
)
def test_how_much_at_once(patient, micrograms, verdict):
    known = facts(patient, sbp=50, dbp=30)

    assert check(PUSH, micrograms, "mcg", known).verdict == verdict


@pytest.mark.parametrize(
    ("row", "rules", "volumes"),
    [
        pytest.param("PDP-002", CONSERVATIVE, slice(2, 4), id="PDP-002, conservative"),
        pytest.param("PDP-005", RULES, slice(0, 2), id="PDP-005, demonstration"),
    ],
)
def test_the_adult_volumes_are_published_ones(row, rules, volumes):
    shown = told(PUSH, facts(), rules)["volumes"]

    assert [shown["least"]["value"], shown["most"]["value"]] == numbers(ROWS[row]["expected"])[volumes]


@pytest.mark.parametrize("row", rows("PDP-010", "PDP-012", "PDP-015"))
def test_a_microgram_per_kg_for_a_child(row):
    """1 mcg/kg, at most 10: the guide; more is told, and above 10 needs an order (the ceiling is from memory)."""
    kg = numbers(row["population"])[0]
    micrograms, milliliters = numbers(row["expected"])
    known = facts(child(6, kg, "months") if kg < 8 else child(4, kg), sbp=50, dbp=30)
    checked = check(PUSH, micrograms, "mcg", known)

    assert told(PUSH, known)["guide"] == {"value": micrograms, "unit": "mcg"}
    assert checked.give.volume.value == pytest.approx(milliliters, abs=0.01)
    assert not {"above_guide", "above_most"} & codes(checked)


@pytest.mark.parametrize(
    ("value", "unit"), [(10, "mcg"), (0.01, "mg"), (0.00001, "g"), ("0.01", "mg")], ids=["mcg", "mg", "g", "a text"]
)
def test_the_spelling_of_a_dose_changes_nothing(value, unit):
    checked = check(PUSH, value, unit)

    assert checked.verdict == "within"
    assert checked.give.shown == "10 mcg = 1 mL of 10 mcg per mL"
    assert checked.give.dose == Amount(10, "mcg")


def test_a_dose_per_kg_becomes_a_dose():
    checked = check(PUSH, 0.25, "mcg/kg", facts(child(2, 12), sbp=50, dbp=30))

    assert checked.give.dose == Amount(3, "mcg")
    assert checked.give.volume == Amount(0.3, "mL")
    assert checked.weight_used == Weight(12, "kg", "measured")


def test_a_dose_per_kg_of_an_unknown_weight_cannot_be_computed():
    checked = check(PUSH, 0.25, "mcg/kg", facts(adult(None)))

    assert "weight_unknown" in codes(checked)
    assert checked.give.volume is None


@pytest.mark.parametrize(
    ("seconds", "soon"), [(30, True), (104, True), (105, False), (120, False)], ids=lambda value: str(value)
)
def test_two_minutes_apart_with_fifteen_seconds_of_grace(seconds, soon):
    known = facts(doses=(FLUID, given(PUSH, seconds / 60, 10, "mcg")))
    checked = check(PUSH, 10, "mcg", known)

    assert ("too_soon" in codes(checked)) is soon


def test_too_soon_says_from_when_on():
    checked = check(PUSH, 10, "mcg", facts(doses=pushes(1, last=0.5)))

    assert checked.next_at == ago(-1.5)


def test_after_this_dose_the_next_is_two_minutes_away():
    assert check(PUSH, 10, "mcg").next_at == ago(-2)


def test_a_dose_entered_late_counts_from_when_it_was_given():
    """Recorded last, given first: it is not too soon after a dose that was given later."""
    known = facts(doses=pushes(1, last=3))

    assert "too_soon" not in codes(check(PUSH, 10, "mcg", known, at=ago(10)))
    assert "too_soon" in codes(check(PUSH, 10, "mcg", known, at=ago(2)))


@pytest.mark.parametrize(("before", "reached"), [(0, False), (4, False), (5, True)])
def test_five_pushes_before_an_order(before, reached):
    checked = check(PUSH, 10, "mcg", facts(doses=pushes(before)))

    assert ("count_reached" in codes(checked)) is reached


def test_three_pushes_where_the_conservative_rules_are_in_force():
    """PDP-030: more than 3 boluses, start an infusion."""
    allowed = int(numbers(ROWS["PDP-030"]["expected"])[0])

    assert "count_reached" not in codes(check(PUSH, 10, "mcg", facts(doses=pushes(allowed - 1)), rules=CONSERVATIVE))
    assert "count_reached" in codes(check(PUSH, 10, "mcg", facts(doses=pushes(allowed)), rules=CONSERVATIVE))


def test_one_syringe_of_100_mcg_before_an_order():
    """PDP-032: five pushes of 20 mcg are 100 mcg, the whole syringe."""
    total = numbers(ROWS["PDP-032"]["expected"])[0]
    four = facts(doses=pushes(4, 20))

    assert "total_reached" not in codes(check(PUSH, total - 80, "mcg", four))
    assert "total_reached" in codes(check(PUSH, 21, "mcg", four))


def test_what_another_crew_gave_counts_in_the_total_and_raises_nothing_else():
    before = (FLUID, given(PUSH, 30, 90, "mcg", prior=True))
    found = codes(check(PUSH, 10, "mcg", facts(doses=before)))

    assert found == set()
    assert "total_reached" in codes(check(PUSH, 11, "mcg", facts(doses=before)))


@pytest.mark.parametrize(
    ("milliliters", "syringe"), [(1, 1), (0.57, 1), (1.5, 3), (2, 3), (3.2, 10), (1.25, None), (4.1, None)]
)
def test_the_smallest_syringe_that_holds_and_reads_the_volume(milliliters, syringe):
    checked = check(PUSH, round(milliliters * 10, 1), "mcg")

    assert checked.give.syringe == (None if syringe is None else Amount(syringe, "mL"))
    assert ("volume_not_measurable" in codes(checked)) is (syringe is None)


@pytest.mark.parametrize("route", ["IM", "SC", "PO", "IN"])
def test_into_a_vein_or_bone_only(route):
    checked = check(PUSH, 10, "mcg", route=route)

    assert "route_not_allowed" in codes(checked)
    assert checked.verdict == "over_hard_limit"


@pytest.mark.parametrize("unit", ["mL", "mL/h", "units", "mcg/min", "mcg/mL", "bag"])
def test_another_kind_of_unit_is_refused(unit):
    with pytest.raises(units.WrongUnit) as refused:
        check(PUSH, 10, unit)

    assert refused.value.field == "amount"


def test_a_stock_of_another_kind_is_refused_at_its_own_field():
    with pytest.raises(units.WrongUnit) as refused:
        check(PUSH, 10, "mcg", stock=Amount(1, "mg"))

    assert refused.value.field == "stock"


def test_the_finding_says_dose_limit_patient_and_source():
    found = next(one for one in check(PUSH, 30, "mcg").findings if one.code == "above_most")

    assert found.text == "30 mcg is over the standing limit of 20 mcg for an adult of 80 kg"
    assert found.as_dict()["limit"] == {"value": 20, "unit": "mcg"}
    assert found.source.endswith("[read]")


def test_a_dose_just_above_its_limit_does_not_look_like_it():
    found = next(one for one in check(PUSH, 20.0004, "mcg").findings if one.code == "above_most")

    assert "20.0004 mcg" in found.text


# ---- phenylephrine


@pytest.mark.parametrize(
    ("micrograms", "verdict"),
    [(50, "within"), (200, "within"), (49, "caution"), (201, "needs_order"), (501, "over_hard_limit")],
)
def test_phenylephrine_for_an_adult(micrograms, verdict):
    assert check("phenylephrine-push-dose", micrograms, "mcg", facts(signs={"hr": 90})).verdict == verdict


def test_phenylephrine_volumes_are_the_published_ones():
    """PDP-023: 50-200 mcg are 0.5-2 mL of 100 mcg per mL."""
    volumes = told("phenylephrine-push-dose")["volumes"]

    assert [volumes["least"]["value"], volumes["most"]["value"]] == numbers(ROWS["PDP-023"]["expected"])[2:]


def test_phenylephrine_is_not_for_crews_to_give_to_a_child():
    checked = check("phenylephrine-push-dose", 50, "mcg", facts(child(5, 18), sbp=50, dbp=30))

    assert "age_not_covered" in codes(checked)
    assert checked.verdict == "needs_order"


@pytest.mark.parametrize(
    ("known", "words"),
    [(facts(signs={"hr": 52}), "under 60"), (facts(impression="cardiogenic", signs={"hr": 90}), "cardiogenic shock")],
    ids=["slow heart", "failing heart"],
)
def test_phenylephrine_where_it_can_hurt(known, words):
    checked = check("phenylephrine-push-dose", 100, "mcg", known)

    assert any(finding.code == "signs_missing" and words in finding.text for finding in checked.findings)


def test_phenylephrine_shown_with_its_strength():
    checked = check("phenylephrine-push-dose", 100, "mcg", facts(signs={"hr": 90}))

    assert checked.give.shown == "100 mcg = 1 mL of 100 mcg per mL"
    assert text.amount_text(checked.give.dose) == "100 mcg"
    assert checked.next_at > TEN


def test_a_check_answers_in_the_shape_of_the_contract():
    answer = check(PUSH, 30, "mcg", facts(child(2, 12), sbp=50, dbp=30)).as_dict()

    contract = {"verdict", "findings", "give", "weight_used", "next_at", "rule_set"}
    assert set(answer) == contract | {"weight_range", "at", "pressure"}
    assert answer["give"]["dose"] == {"value": 30, "unit": "mcg"}
    assert answer["give"]["volume"] == {"value": 3, "unit": "mL"}
    assert answer["give"]["rate"] is None
    assert answer["weight_used"] == {"value": 12, "unit": "kg", "basis": "measured"}
    assert answer["rule_set"] == {"name": "demonstration", "version": "1", "digest": RULES.digest}
    assert all(set(one) == {"code", "level", "text", "limit", "source"} for one in answer["findings"])


def test_the_worst_finding_stands_first():
    levels = [one.level for one in check(PUSH, 1, "mg", facts(doses=())).findings]

    assert levels[0] == "over_hard_limit"
    assert levels[-1] == "caution"
