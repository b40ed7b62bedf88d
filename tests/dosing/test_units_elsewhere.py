"""Every unit that is used here against another reading of the published unit codes (UCUM, by ucumvert over pint)."""

from fractions import Fraction
from itertools import permutations, product

import pytest
from pint import DimensionalityError
from ucumvert import PintUcumRegistry
from ucumvert.parser import InvalidUcumError

from dosing.check import infusion
from dosing.ground import units
from dosing.ground.facts import Amount, Weight

# The contract's names beside UCUM's codes: only two are spelt otherwise. Bags of blood are no unit of UCUM.
CODES = {"mcg": "ug", "mg": "mg", "g": "g", "mL": "mL", "L": "L", "units": "[iU]", "mmol": "mmol", "mEq": "meq"}
PER_MASS, PER_TIME = ("", "/kg"), ("", "/min", "/h")
DOSES = ["".join(parts) for parts in product(CODES, PER_MASS, PER_TIME)]
STRENGTHS = [f"{unit}/mL" for unit in ("mcg", "mg", "g", "units", "mmol", "mEq")]
USED = [*DOSES, *STRENGTHS]


@pytest.fixture(scope="module")
def ucum():
    return PintUcumRegistry()


def code(unit: str) -> str:
    base, *rest = unit.split("/")
    return "/".join((CODES[base], *rest))


def test_every_unit_of_the_contract_is_read(ucum):
    for unit in USED:
        assert units.quantity(Amount(1, unit)).magnitude > 0
        assert ucum.from_ucum(code(unit)) is not None


@pytest.mark.parametrize("unit", USED)
def test_each_conversion_is_theirs(ucum, unit):
    """Within a kind every factor is the same; there is none between kinds."""
    here, theirs = units.quantity(Amount(1, unit)), 1 * ucum.from_ucum(code(unit))
    for other in USED:
        if units.kind(other) == units.kind(unit):
            factor = float(units.number(here, other))
            assert theirs.to(ucum.from_ucum(code(other))).magnitude == pytest.approx(factor, rel=1e-12)
        else:
            with pytest.raises(units.WrongUnit, match=f"cannot be stated in {other}") as refused:
                units.amount(here, other)
            assert refused.value.code == "wrong_kind"


def test_what_they_refuse_to_convert_is_refused_here_too(ucum):
    """We are the stricter of the two: body weight is no drug mass, mEq are no mmol, units are no number."""
    one_of_each_kind = {units.kind(unit): unit for unit in USED}.values()
    for unit, other in permutations(one_of_each_kind, 2):
        try:
            (1 * ucum.from_ucum(code(unit))).to(ucum.from_ucum(code(other)))
        except DimensionalityError:
            continue
        stricter = {"mmol", "mEq"} & {unit.split("/")[0], other.split("/")[0]} or "/kg" in unit + other
        assert stricter, (unit, other)


@pytest.mark.parametrize("unit", ["cc", "IU", "µg", "gr", "lb", "gamma", "mg per kg", "mcg/", "mg//kg", "MCG"])
def test_what_no_list_of_units_knows_is_refused_by_both(ucum, unit):
    with pytest.raises(InvalidUcumError):
        ucum.from_ucum(unit)
    with pytest.raises(units.WrongUnit, match="unknown unit") as refused:
        units.kind(unit)
    assert refused.value.code == "unknown_unit"


@pytest.mark.parametrize(
    ("unit", "why"),
    [
        ("U", "UCUM: the enzyme unit, 1 umol/min; on the list of error-prone abbreviations"),
        ("[iU]", "written units, by the same list"),
        ("ug", "written mcg, by the same list"),
        ("ml", "written mL, by the same list"),
        ("Mg", "UCUM: a megagram, a thousand million times a mg"),
        ("[drp]", "a drop is no dose"),
        ("mg/kg/min/min", "no dose rate"),
        ("ug/[lb_av]", "body weight is in kg"),
        ("%", "strengths are mass per mL"),
        ("1", "a number is not an amount"),
    ],
)
def test_what_is_a_unit_elsewhere_but_not_here(ucum, unit, why):
    assert ucum.from_ucum(unit) is not None, why
    with pytest.raises(units.WrongUnit):
        units.kind(unit)


@pytest.mark.parametrize(
    ("dose", "strength", "kg"),
    [
        *product((0.05, 0.1, 0.5, 2), (4, 16, 64, 3200), (0.7, 18, 70, 140)),
    ],
    ids=str,
)
def test_pump_rates_by_the_other_arithmetic(ucum, dose, strength, kg):
    """mL/h of mcg/kg/min: their quantities multiply and divide, ours are exact."""
    theirs = (dose * ucum.from_ucum("ug/kg/min")) * (kg * ucum.from_ucum("kg")) / (strength * ucum.from_ucum("ug/mL"))
    rate = infusion.pump_rate(
        units.quantity(Amount(dose, "mcg/kg/min")),
        units.quantity(Amount(strength, "mcg/mL")),
        units.body_weight(Weight(kg)),
    )

    assert theirs.to(ucum.from_ucum("mL/h")).magnitude == pytest.approx(units.amount(rate, "mL/h").value, rel=1e-9)


@pytest.mark.parametrize("unit", DOSES)
def test_an_hour_is_sixty_minutes(unit):
    """So by every calendar; what is given in an hour is sixty times what is given in a minute."""
    if unit.endswith("/h"):
        hourly, by_minute = units.quantity(Amount(60, unit)), units.quantity(Amount(1, unit.removesuffix("h") + "min"))
        assert hourly == by_minute
        assert hourly.magnitude == Fraction(by_minute.magnitude)
