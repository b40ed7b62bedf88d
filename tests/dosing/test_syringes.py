"""The smallest syringe that holds and reads a volume; graduations as printed on the barrel (from memory)."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ground.facts import Amount
from dosing.mix import syringes
from dosing.rules.rule_set import Figure, Syringe
from tests.copying import replace
from tests.dosing.bedside import CONSERVATIVE, RULES, check, child, codes, facts, told

PUSH = "epinephrine-push-dose"
GRADUATIONS = {1: Fraction(1, 100), 3: Fraction(1, 10), 10: Fraction(1, 5)}  # mL: holds, reads to


@pytest.mark.parametrize(
    ("milliliters", "syringe"),
    [
        ("0.005", None),
        ("0.01", 1),
        ("0.57", 1),
        ("0.575", None),
        ("0.99", 1),
        ("1", 1),
        ("1.01", None),
        ("1.05", None),
        ("1.1", 3),
        ("2.9", 3),
        ("3", 3),
        ("3.1", None),
        ("3.2", 10),
        ("9.8", 10),
        ("9.9", None),
        ("10", 10),
        ("10.2", None),
    ],
)
@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_at_and_beside_each_mark(milliliters, syringe, rules):
    found = syringes.smallest([Fraction(milliliters)], rules)

    assert found == (None if syringe is None else Amount(syringe, "mL"))


@given(thousandths=st.integers(1, 12_000))
def test_a_syringe_that_is_named_holds_the_volume_and_has_its_mark_and_no_smaller_one_does(thousandths):
    volume = Fraction(thousandths, 1000)
    fit = [size for size, mark in GRADUATIONS.items() if volume <= size and volume % mark == 0]
    found = syringes.smallest([volume], RULES)

    assert (None if found is None else found.value) == (min(fit) if fit else None)


@given(thousandths=st.integers(1, 10_000))
def test_a_volume_lies_between_the_marks_that_are_named(thousandths):
    volume = Fraction(thousandths, 1000)
    holds, reads = syringes.holding(volume, RULES)
    near = syringes.neighbors(volume, holds, reads)

    assert all(syringes.reads_exactly(mark, reads) and mark <= holds.value for mark in near)
    assert volume - min(near) <= GRADUATIONS[holds.value] or min(near) > volume
    assert max(near) > volume or volume == holds.value


@pytest.mark.parametrize(
    ("micrograms", "words"),
    [
        (12.5, "1.25 mL cannot be read: a 3 mL syringe is marked every 0.1 mL; 1.2 mL is 12 mcg, 1.3 mL is 13 mcg"),
        (41, "4.1 mL cannot be read: a 10 mL syringe is marked every 0.2 mL; 4 mL is 40 mcg, 4.2 mL is 42 mcg"),
        (
            5.75,
            "0.575 mL cannot be read: a 1 mL syringe is marked every 0.01 mL; 0.57 mL is 5.7 mcg, 0.58 mL is 5.8 mcg",
        ),
        (0.05, "0.005 mL cannot be read: a 1 mL syringe is marked every 0.01 mL; 0.01 mL is 0.1 mcg"),
    ],
)
def test_a_volume_that_cannot_be_read_is_told_with_those_that_can(micrograms, words):
    checked = check(PUSH, micrograms, "mcg")

    assert checked.give.syringe is None
    assert [one.text for one in checked.findings if one.code == "volume_not_measurable"] == [words]


def test_the_marks_beside_a_dose_per_kg_are_doses_of_this_child():
    """0.7 mcg/kg for 8.25 kg are 5.775 mcg."""
    known = facts(child(8, 8.25, "months"), sbp=50, dbp=30)
    found = [one for one in check(PUSH, 0.7, "mcg/kg", known).findings if one.code == "volume_not_measurable"]

    assert found[0].text.endswith("0.57 mL is 5.7 mcg, 0.58 mL is 5.8 mcg")
    assert found[0].limit == Amount(0.01, "mL")
    assert "Graduations" in found[0].source


def test_what_is_larger_than_any_syringe_goes_by_several_and_is_not_told_as_unreadable():
    assert "volume_not_measurable" not in codes(check(PUSH, 102, "mcg"))


@pytest.mark.parametrize(
    ("slug", "value", "unit", "syringe"),
    [("epinephrine-im", 0.3, "mg", 1), ("fentanyl", 80, "mcg", 3), ("hydrocortisone", 100, "mg", 3)],
)
def test_what_is_not_a_push_dose_names_its_syringe_too(slug, value, unit, syringe):
    assert check(slug, value, unit).give.syringe == Amount(syringe, "mL")


def test_what_is_not_a_push_dose_raises_nothing_where_no_syringe_reads_it():
    checked = check("calcium-chloride", 125, "mg")

    assert checked.give.syringe is None
    assert "volume_not_measurable" not in codes(checked)


@pytest.mark.parametrize(
    ("slug", "patient", "syringe"),
    [
        (PUSH, None, {"value": 3, "unit": "mL"}),
        (PUSH, child(5, 18), {"value": 1, "unit": "mL"}),
        ("phenylephrine-push-dose", None, {"value": 3, "unit": "mL"}),
    ],
    ids=["1 to 2 mL", "0.1 to 1 mL", "0.5 to 2 mL"],
)
def test_the_guidance_names_the_syringe_that_reads_least_and_most(slug, patient, syringe):
    assert told(slug, facts(patient))["volumes"]["syringe"] == syringe


def test_a_pump_needs_no_syringe_in_the_guidance():
    volumes = told("norepinephrine-infusion")["volumes"]

    assert volumes is None or volumes["syringe"] is None


def _figure(value):
    return Figure(value, "mL", RULES.syringes[0].holds.source)


def test_the_smallest_is_the_one_that_holds_least_whatever_it_reads_to():
    """A small syringe may have coarser marks than a larger one."""
    coarse, fine = (Syringe(holds=_figure(holds), reads=_figure(reads)) for holds, reads in ((1, 0.5), (3, 0.1)))
    rules = replace(RULES, syringes=(fine, coarse), digest="other")

    assert syringes.smallest([Fraction(1, 2)], rules) == Amount(1, "mL")
    assert syringes.finest_mark(rules) == Fraction(1, 10)
