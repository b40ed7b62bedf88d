"""What the ledger says of each syringe and bag: doses left, when to discard it, what is wrong with it."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Container, Dose
from dosing.held import ledger
from dosing.load import reader
from tests.dosing.bedside import RULES, adult, child
from tests.dosing.in_hand import (
    BOLUS,
    DRIP,
    PUSH,
    at,
    bag,
    bolus,
    cylinder,
    doses_left,
    drip,
    facts,
    held,
    push,
    shown,
    syringe,
)


class TestDosesLeft:
    """One 10 mL syringe at 10 mcg per mL holds 100 mcg, five pushes of 20 mcg (reference/rules, push dose)."""

    def test_before_any_dose_the_standing_limits_say_how_many(self) -> None:
        found = doses_left(syringe())
        assert found == ledger.DosesLeft(5, 10, Amount(10, "mcg"), Amount(20, "mcg"))

    def test_a_childs_limits_are_its_own(self) -> None:
        """1-10 mcg, at most 10 (reference/rules): 10 to 100 doses in 100 mcg."""
        found = doses_left(syringe(), patient=child(5, 18))
        assert found == ledger.DosesLeft(10, 100, Amount(1, "mcg"), Amount(10, "mcg"))

    def test_after_a_dose_the_last_one_says_how_many(self) -> None:
        assert doses_left(syringe(), push(1, 20), push(3, 15)) == ledger.DosesLeft(
            4, 4, Amount(15, "mcg"), Amount(15, "mcg"), last=True
        )

    def test_what_is_left_of_a_dose_is_no_dose(self) -> None:
        found = doses_left(syringe(), push(1, 20), push(3, 15), push(5, 60))
        assert found is not None
        assert (found.fewest, found.many) == (0, 0)

    @pytest.mark.parametrize(
        "one",
        [
            bag(),
            bag(treatment=BOLUS, strength=None),
            bag(treatment=BOLUS, strength=Amount(9, "mg/mL")),
            cylinder(),
            syringe(treatment=None),
            syringe(treatment="phenylephrine-push-dose", strength=Amount(10, "units/mL")),
        ],
        ids=["infusion", "fluid", "saline by its strength", "oxygen", "not in the rules", "a strength of another kind"],
    )
    def test_what_is_not_given_in_doses_has_none(self, one: Container) -> None:
        assert doses_left(one) is None

    def test_a_limit_per_kg_of_an_unknown_weight_counts_nothing(self) -> None:
        midazolam = syringe(treatment="midazolam", strength=Amount(1, "mg/mL"))
        assert doses_left(midazolam, patient=child(5, None)) is None

    def test_limits_that_follow_the_pressure_stay_out(self) -> None:
        """Ketamine below the goal is less: the list must not change with each reading."""
        ketamine = syringe(treatment="ketamine", strength=Amount(10, "mg/mL"), ml=5)
        assert doses_left(ketamine) == doses_left(ketamine, readings=facts(ketamine).readings)


class TestDiscard:
    @pytest.mark.parametrize(
        ("one", "ended", "minutes"),
        [(syringe(10), None, 250), (bag(10), None, 250), (syringe(10), 60, 60), (syringe(10), 300, 250)],
        ids=["a syringe", "a bag", "handed over before", "handed over after"],
    )
    def test_four_hours_or_the_handover(self, one: Container, ended: float | None, minutes: float) -> None:
        """What is mixed for immediate use is begun within 4 h (USP chapter 797, 2023, second-hand)."""
        known = facts(one, ended_at=None if ended is None else at(ended))
        assert ledger.discard_at(one, known, RULES) == at(minutes)

    @pytest.mark.parametrize("one", [bag(treatment=BOLUS, strength=None), cylinder()], ids=["fluid", "oxygen"])
    def test_what_was_not_mixed_keeps(self, one: Container) -> None:
        assert ledger.discard_at(one, facts(one, ended_at=at(5)), RULES) is None


class TestNote:
    def test_more_drawn_than_was_in_it_says_so(self) -> None:
        one = held(syringe(), doses=tuple(push(minute, 20) for minute in range(1, 7)))["syringe"]
        assert ledger.note(one) == "drawn 12 mL of a 10 mL syringe: a dose is double or missing"

    def test_just_emptied_is_nothing(self) -> None:
        one = held(syringe(), doses=tuple(push(minute, 20) for minute in range(1, 6)))["syringe"]
        assert (one.left, ledger.note(one)) == (0, "")

    def test_a_hair_more_is_told_with_the_digits_that_it_takes(self) -> None:
        one = held(syringe(), doses=(push(1, 100.01),))["syringe"]
        assert ledger.note(one) == "drawn 10.001 mL of a 10 mL syringe: a dose is double or missing"

    def test_of_a_bag_of_fluid_a_new_one_may_hang(self) -> None:
        poured = tuple(push(at, treatment=BOLUS, amount=Amount(ml, "mL")) for at, ml in ((10, 1000), (20, 5)))
        one = held(bag(treatment=BOLUS, strength=None, volume=Amount(1000, "mL")), doses=poured)["bag"]
        assert ledger.note(one) == (
            "drawn 1,005 mL of a 1,000 mL bag: record the new bag, or mark a dose entered twice"
        )

    def test_a_bag_that_the_pump_says_gave_more(self) -> None:
        ended = drip((0, 8, "mcg/min"), status="finished", ended_at=at(100), infused=Amount(300, "mL"))
        assert ledger.note(held(bag(), doses=(ended,))["bag"]).startswith("drawn 300 mL of a 250 mL bag")

    def test_time_alone_never_accuses(self) -> None:
        ended = drip((0, 8, "mcg/min"), status="stopped", ended_at=at(2000))
        assert ledger.note(held(bag(), doses=(ended,))["bag"]) == ""

    @pytest.mark.parametrize(
        ("one", "words"),
        [
            (syringe(strength=Amount(100, "mcg/mL")), "100 mcg per mL in hand, usual 10 mcg per mL"),
            (syringe(strength=Amount(0.01, "mg/mL")), ""),
            (bag(strength=Amount(17, "mcg/mL")), "17 mcg per mL in hand, not a usual strength"),
            (bag(strength=Amount(64, "mcg/mL")), ""),
        ],
        ids=["ten times", "the same in mg", "a bag of no listed strength", "a listed one"],
    )
    def test_a_strength_that_nobody_mixes_is_told(self, one: Container, words: str) -> None:
        assert ledger.note(held(one)[one.id]) == words


class TestWorthShowing:
    def test_an_empty_syringe_stays_until_there_is_another(self) -> None:
        empty = tuple(push(minute, 20) for minute in range(1, 6))
        assert shown(syringe(), doses=empty) == ["syringe"]
        assert shown(syringe(), syringe(9, name="second"), doses=empty) == ["second"]

    def test_one_with_a_dose_too_many_stays(self) -> None:
        double = tuple(push(minute, 20) for minute in range(1, 7))
        assert shown(syringe(), syringe(9, name="second"), doses=double) == ["syringe", "second"]

    def test_an_empty_bag_of_fluid_goes(self) -> None:
        liter = bag(ml=500, treatment=BOLUS, strength=None, name="bolus", hung=True)
        assert shown(liter, doses=(bolus(0, 500),)) == []


@pytest.mark.parametrize(
    ("treatment", "unit", "holds"),
    [
        (PUSH, "mcg/mL", True),
        (PUSH, "mg/mL", True),
        (PUSH, "units/mL", False),
        (DRIP, "mcg/mL", True),
        ("vasopressin-infusion", "units/mL", True),
        ("vasopressin-infusion", "mcg/mL", False),
        (BOLUS, "mg/mL", False),
    ],
)
def test_a_strength_is_of_the_kind_in_which_the_treatment_is_measured(treatment: str, unit: str, holds: bool) -> None:
    assert ledger.can_hold(RULES.treatments[treatment], Amount(1, unit)) is holds


@pytest.mark.parametrize(("ml", "form"), [(50, "syringe"), (60, "syringe"), (61, "bag"), (250, "bag")])
def test_a_pump_takes_syringes_up_to_the_largest(ml: float, form: str) -> None:
    """The largest usual syringe holds 60 mL: common practice, from memory."""
    assert ledger.form_of(Amount(ml, "mL"), RULES) == form


@pytest.mark.parametrize("name", ["demonstration", "conservative"])
def test_both_rule_sets_say_where_each_number_of_the_ledger_comes_from(name: str) -> None:
    rule = reader.load_shipped(name).ledger
    assert all(source.text and source.mark for source in rule.sources.values())
    assert set(rule.sources) == {field for field in type(rule).__slots__ if field != "sources"}


def test_an_adult_of_unknown_weight_has_doses_left_too() -> None:
    assert doses_left(syringe(), patient=adult(None)) == doses_left(syringe())


SALINE = {"treatment": BOLUS, "strength": None}


@pytest.mark.parametrize(
    ("treatment", "bags", "doses", "left"),
    [
        (BOLUS, (), (), None),
        (DRIP, (bag(),), (), None),
        (BOLUS, (bag(ml=1000, **SALINE),), (bolus(1, 250),), 750),
        (BOLUS, (bag(ml=1000, **SALINE),), (bolus(1, 750, over_min=20, status="running"),), 250),
        (BOLUS, (bag(ml=500, **SALINE),), (bolus(1, 500),), 0),
        (BOLUS, (bag(ml=500, **SALINE),), (bolus(1, 500), bolus(9, 500, "untold")), 0),
        (BOLUS, (bag(ml=500, **SALINE), bag(8, 500, "next", **SALINE)), (bolus(1, 500),), 500),
        (BOLUS, (bag(ml=500, discarded_at=at(5), **SALINE),), (bolus(1, 250),), 0),
    ],
    ids=[
        "none was hung",
        "no fluid",
        "some is left",
        "one runs",
        "empty",
        "more than it held",
        "a new one",
        "discarded",
    ],
)
def test_what_a_further_dose_of_a_fluid_finds_in_its_bag(
    treatment: str, bags: tuple[Container, ...], doses: tuple[Dose, ...], left: float | None
) -> None:
    assert ledger.left_for_more(facts(*bags, doses=doses), RULES, RULES.treatments[treatment]) == left
