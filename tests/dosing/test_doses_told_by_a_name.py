"""What was given and told by a name in words of its own counts like the treatment that it is.

That brands and short names are these drugs is in the trade's monographs (from memory); intervals and counts are those
of the rule set, which name their sources.
"""

from __future__ import annotations

import pytest

from dosing.check.earlier import with_given
from dosing.ground.facts import Amount, Dose
from dosing.ground.given_before import Earlier
from dosing.ground.phases import PhaseChange
from dosing.rules.names import counted_as
from tests.dosing.bedside import RULES, adult, ago, check, facts, told

MOTHER, SHOT = adult(pregnancy_weeks=36), adult(bleeding_cause="trauma", onset_at=ago(50))
ORDER, OVER = "needs_order", "over_hard_limit"
FINE = {"rr": 16, "hr": 90}
PUSH, MUSCLE, ARREST = "epinephrine-push-dose", "epinephrine-im", "epinephrine-arrest"


def named(name, minutes_ago=20, route="", amount=None, **more):
    """A dose that others gave, told by a name."""
    return Dose(
        id=name, treatment="other", name=name, given_at=ago(minutes_ago), route=route, amount=amount, prior=True, **more
    )


def level(code, treatment, dose, before, patient=None, *, sbp=170, dbp=115, impression="undifferentiated", **more):
    """How grave a finding is after a dose told by a name; empty where there is none."""
    signs = FINE | more.pop("signs", {})
    known = facts(patient, sbp=sbp, dbp=dbp, signs=signs, doses=(before,), impression=impression)
    found = check(treatment, *dose, known, **more).findings
    return next((each.level for each in found if each.code == code), "")


@pytest.mark.parametrize(
    ("name", "grave"),
    [
        ("magnesium sulfate", ORDER),
        ("MgSO4", ORDER),
        ("MgSO4 4 g", ORDER),
        ("mag", ORDER),
        ("magnesium oxide", ""),
        ("no magnesium given", ""),
        ("ondansetron", ""),
    ],
)
def test_magnesium_of_the_hospital_is_the_first_dose(name, grave):
    before = named(name, amount=Amount(4, "g"), route="IV")
    dose = {"indication": "eclampsia", "over_min": 20}

    assert level("count_reached", "magnesium-sulfate", (4, "g"), before, MOTHER, **dose) == grave


@pytest.mark.parametrize(
    ("name", "grave"),
    [("tranexamic acid", ORDER), ("TXA", ORDER), ("Cyklokapron", ORDER), ("aminocaproic acid", ""), ("TX", "")],
)
def test_tranexamic_acid_of_others_is_the_first_dose(name, grave):
    assert level("count_reached", "tranexamic-acid", (1, "g"), named(name), SHOT, sbp=85, over_min=10) == grave


@pytest.mark.parametrize(
    ("treatment", "dose", "name", "minutes_ago", "grave"),
    [
        ("naloxone", (0.4, "mg"), "Narcan nasal", 1, ORDER),
        ("naloxone", (0.4, "mg"), "Narcan nasal", 2, ""),
        ("naloxone", (0.4, "mg"), "naltrexone", 1, ""),
        ("atropine", (1, "mg"), "atropine", 1, ORDER),
        ("atropine", (1, "mg"), "atropine", 3, ""),
        ("atropine", (1, "mg"), "atropine eye drops", 1, ""),
        (MUSCLE, (0.5, "mg"), "adrenaline", 1, ORDER),
        (MUSCLE, (0.5, "mg"), "EpiPen", 1, ORDER),
        (MUSCLE, (0.5, "mg"), "EpiPen", 5, ""),
        (MUSCLE, (0.5, "mg"), "noradrenaline", 1, ""),
        (MUSCLE, (0.5, "mg"), "racemic epinephrine", 1, ""),
        ("furosemide", (40, "mg"), "Lasix", 3, ORDER),
        ("furosemide", (40, "mg"), "furosemide 80 mg", 3, ORDER),
        ("furosemide", (40, "mg"), "furosemide 80 mg", 60, ""),
        ("furosemide", (40, "mg"), "no Lasix given", 3, ""),
    ],
)
def test_the_next_dose_waits_for_one_that_was_told_by_a_name(treatment, dose, name, minutes_ago, grave):
    more = {"impression": "anaphylactic"} if treatment == MUSCLE else {}

    assert level("too_soon", treatment, dose, named(name, minutes_ago), **more) == grave


@pytest.mark.parametrize(
    ("name", "grave"), [("calcium chloride", ORDER), ("calcium", ORDER), ("calcium carbonate", "")]
)
def test_calcium_of_others_counts_as_a_dose(name, grave):
    assert level("count_reached", "calcium-chloride", (1, "g"), named(name), over_min=10) == grave


def test_what_is_only_added_up_and_told_by_a_name_counts_too():
    long_ago = with_given({}, (named("TXA", 60, "IV", Amount(1, "g")),), RULES)
    known = facts(SHOT, sbp=85, doses=(), earlier=Earlier(until=ago(40), given=long_ago))
    entry = told("tranexamic-acid", known)

    assert entry["left"]["count"] == 0
    assert told("tranexamic-acid", facts(SHOT, sbp=85, doses=()))["left"]["count"] == 1


def test_its_amount_is_in_the_total():
    before = named("Narcan", 20, "IV", Amount(3.8, "mg"))
    found = check("naloxone", 0.4, "mg", facts(sbp=120, dbp=80, signs={"rr": 6}, doses=(before,))).findings

    assert [each.level for each in found if each.code == "total_reached"] == [ORDER]


@pytest.mark.parametrize(
    ("name", "unit", "route", "phase", "slugs"),
    [
        ("EpiPen", "mg", "IM", "transport", {MUSCLE}),
        ("adrenaline", "mg", "IV", "arrest", {ARREST}),
        ("adrenaline", "mcg", "IV", "transport", {PUSH}),
        ("adrenaline", "mcg/min", "IV", "transport", {"epinephrine-infusion"}),
        ("magnesium", "tablet", "PO", "transport", set()),
        ("GTN", "mg", "PO", "transport", {"nitroglycerin-tongue"}),
        ("blood thinner", "", "", "transport", set()),
        ("PRBC", "", "", "transport", {"blood-product"}),
        ("refused morphine and TXA", "", "", "transport", set()),
        ("nor-epinephrine", "", "", "transport", {"norepinephrine-infusion"}),
    ],
)
def test_a_name_counts_for_the_treatments_that_phase_unit_and_route_leave(name, unit, route, phase, slugs):
    assert counted_as(name, unit, route, RULES, phase) == slugs


def test_every_treatment_is_counted_by_its_own_title_and_drug():
    for treatment in RULES.treatments.values():
        for name in (treatment.title, treatment.drug):
            assert treatment.slug in counted_as(name, "", "", RULES, min(treatment.phases or {"transport"})), name


def test_in_an_arrest_the_next_dose_waits_for_adrenaline_told_by_that_name():
    arrest = (PhaseChange(id="arrest", phase="arrest", at=ago(10)),)
    doses = (named("adrenaline", 1, "IV", Amount(1, "mg")),)
    found = check(ARREST, 1, "mg", facts(sbp=None, doses=doses, phases=arrest)).findings

    assert [each.level for each in found if each.code == "too_soon"] == [ORDER]


@pytest.mark.parametrize(
    ("allergies", "grave"),
    [
        ("myasthenia gravis", OVER),
        ("myasthenia", OVER),
        ("NKDA. Myasthenia gravis", OVER),
        ("NKDA myasthenia gravis", OVER),
        ("no myasthenia", ""),
        ("no history of myasthenia gravis", ""),
        ("myopia", ""),
    ],
)
def test_magnesium_never_meets_myasthenia(allergies, grave):
    """Contraindicated (ACOG, from memory)."""
    patient = adult(pregnancy_weeks=36, allergies=(allergies,))
    dose = {"indication": "eclampsia", "over_min": 20}

    assert level("contraindicated", "magnesium-sulfate", (4, "g"), named("ondansetron"), patient, **dose) == grave


@pytest.mark.parametrize(
    ("name", "grave"),
    [
        ("riociguat", OVER),
        ("Adempas", OVER),
        ("PDE5 inhibitor", OVER),
        ("PDE-5 inhibitor", OVER),
        ("Viagara", OVER),
        ("sidenafil", OVER),
        ("aspirin", ""),
        ("sertraline", ""),
    ],
)
def test_no_nitrate_after_its_partners_in_any_spelling(name, grave):
    before = named(name, 120, "PO")

    assert level("contraindicated", "nitroglycerin-tongue", (0.4, "mg"), before, adult()) == grave


@pytest.mark.parametrize(
    ("name", "rate", "grave"),
    [
        ("phenelzine", 5, OVER),
        ("Nardil", 5, OVER),
        ("linezolid", 5, OVER),
        ("selegiline", 5, OVER),
        ("linezolid", 1, ""),
        ("sertraline", 5, ""),
        ("levofloxacin", 5, ""),
    ],
)
def test_an_mao_inhibitor_on_record_is_that_history(name, rate, grave):
    """One tenth of the dose (dopamine prescribing information)."""
    before = named(name, 120, "PO")
    dose = {"sbp": 70, "dbp": 40, "concentration": Amount(1600, "mcg/mL")}

    assert level("above_hard_limit", "dopamine-infusion", (rate, "mcg/kg/min"), before, adult(), **dose) == grave
