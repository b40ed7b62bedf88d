"""What must hold whatever the order of entries, the weight, the time that has passed and the spelling of a unit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.check.bands import DoseLimits, Person
from dosing.ground import text, units
from dosing.ground.facts import Amount, Reading
from tests.copying import replace
from tests.depth import few
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, ago, check, child, codes, facts
from tests.dosing.bedside import given as dose

TREATMENTS = sorted(RULES.treatments)
BOTH = st.sampled_from([RULES, CONSERVATIVE])
WEIGHTS = st.integers(5, 500).map(lambda tenths: tenths / 10)
SPELLINGS = {"mcg": ("mg", 1000), "mg": ("g", 1000), "mL": ("L", 1000), "g": ("mg", 0.001)}


def unit_of(treatment: str, grown: bool) -> str:
    if treatment == "vasopressin-infusion":
        return "units/min" if grown else "units/kg/min"
    return RULES.treatments[treatment].unit


def eventful(treatment: str, unit: str):
    """Doses of this and other treatments, and readings with every kind of pressure."""
    doses = [dose(treatment, minutes, 1, unit, prior=minutes == 30) for minutes in (1.5, 8, 30)] + [
        dose("crystalloid-bolus", 50, 250, "mL"),
        dose("epinephrine-infusion", 20, 0.1, "mcg/kg/min", status="running"),
    ]
    readings = [
        Reading(taken_at=ago(9), sbp=66, dbp=30, hr=120),
        Reading(taken_at=ago(5), sbp=88, bp_method="palpated"),
        Reading(taken_at=ago(1), sbp=96, dbp=44, lungs="crackles"),
    ]
    return doses, readings


@pytest.mark.parametrize("treatment", TREATMENTS)
@few
@given(data=st.data(), grown=st.booleans(), value=st.integers(1, 400), rules=BOTH)
def test_the_order_of_entries_does_not_matter(treatment, data, grown, value, rules):
    """A unit out of reach sends late and out of order; what counts is when it happened."""
    unit = unit_of(treatment, grown)
    doses, readings = eventful(treatment, unit)
    known = facts(adult() if grown else child(), readings=tuple(readings), doses=tuple(doses))
    shuffled = replace(known, doses=tuple(data.draw(st.permutations(doses))))

    one, other = (check(treatment, value / 100, unit, each, rules=rules) for each in (known, shuffled))

    assert one.as_dict() == other.as_dict()
    assert [finding.level for finding in one.findings] == sorted(
        (finding.level for finding in one.findings), key=["over_hard_limit", "needs_order", "caution"].index
    )


@pytest.mark.parametrize("treatment", TREATMENTS)
@few
@given(kg=WEIGHTS, more=st.integers(1, 400), grown=st.booleans(), rules=BOTH, name=st.sampled_from(["most", "hard"]))
def test_no_limit_shrinks_with_the_weight(treatment, kg, more, grown, rules, name):
    def at(weight: float):
        exact = units.quantity(Amount(weight, "kg"))
        person = Person(adult=grown, days=None if grown else 1825, weight=exact)
        found = DoseLimits(rules.treatment(treatment), person).exact(name)
        return found if found is None or not units.is_per_kg(found) else found * exact

    light, heavy = at(kg), at(kg + more / 10)

    assert (light is None) == (heavy is None)
    assert light is None or light <= heavy


@given(
    minutes=st.integers(1, 400), more=st.integers(1, 400), treatment=st.sampled_from(TREATMENTS), grown=st.booleans()
)
def test_waiting_ends_what_is_too_soon_and_closes_what_has_closed(minutes, more, treatment, grown):
    """Time passes one way: an interval once kept stays kept, a window once closed and a reading once old stay so."""
    unit = unit_of(treatment, grown)

    def found(after: float) -> set[str]:
        patient = replace(adult() if grown else child(), onset_at=ago(after))
        known = facts(
            patient,
            impression="hemorrhagic",
            doses=(dose(treatment, after, 1, unit),),
            readings=(Reading(taken_at=ago(after), sbp=60, dbp=30),),
        )
        return codes(check(treatment, 0.01, unit, known))

    sooner, later = found(minutes / 2), found((minutes + more) / 2)

    assert "too_soon" not in later - sooner
    assert not {"window_closed", "pressure_stale"} & (sooner - later)


@pytest.mark.parametrize("treatment", TREATMENTS)
@few
@given(hundredths=st.integers(1, 100_000), kg=WEIGHTS, grown=st.booleans(), rules=BOTH)
def test_the_spelling_of_any_unit_never_changes_a_verdict(treatment, hundredths, kg, grown, rules):
    """0.01 mg is 10 mcg, 60 an hour are 1 a minute: the same findings, volume and verdict."""
    unit, value = unit_of(treatment, grown), hundredths / 100
    base, *rest = unit.split("/")
    known = facts(adult(kg + 40) if grown else child(5, kg))
    written = [(value, unit)]
    if base in SPELLINGS:
        other, factor = SPELLINGS[base]
        written.append((round(value / factor, 9), "/".join((other, *rest))))
    if rest and rest[-1] == "min":
        written.append((round(value * 60, 6), unit.removesuffix("min") + "h"))

    first, *others = (check(treatment, number, spelt, known, rules=rules) for number, spelt in written)

    for each in others:
        assert each.verdict == first.verdict
        assert [finding.code for finding in each.findings] == [finding.code for finding in first.findings]


@given(st.integers(1, 999), st.sampled_from([0.001, 0.01, 0.1, 1, 1000]), st.sampled_from(["mcg", "mL", "units", "g"]))
def test_what_is_written_reads_back_as_the_same_amount(digits, scale, unit):
    """Three digits are never rounded, so what a person copies from the page is the amount that was checked."""
    amount = Amount(round(digits * scale, 3), unit)
    number, spelt = text.amount_text(amount).split(" ")

    assert units.same(Amount(float(number.replace(",", "")), {"unit": "units"}.get(spelt, spelt)), amount)
