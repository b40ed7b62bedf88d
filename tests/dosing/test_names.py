"""Which drug of the rules a name in words of one's own means, and as which treatment a dose told so is judged.

Names: those that the demonstration rules list with their sources (INN and BAN, trade names, spoken ones).
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from dosing.ground.facts import Amount, Dose
from dosing.load import reader
from dosing.rules.names import class_told, named, treatment_told
from tests.copying import replace
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, ago, check, facts

PUSH, INTO_MUSCLE, DRIP = "epinephrine-push-dose", "epinephrine-im", "norepinephrine-infusion"


def drugs(told: str) -> tuple[str, ...]:
    found = named(told, RULES)
    return found.drugs if found else ()


@pytest.mark.parametrize(
    ("told", "drug"),
    [
        ("epinephrine", "epinephrine"),
        ("EPINEPHrine", "epinephrine"),
        ("Adrenaline 1:1,000", "epinephrine"),
        ("adrénaline", "epinephrine"),
        ("epi", "epinephrine"),
        ("epinephrine1mg", "epinephrine"),
        ("noradrenaline tartrate", "norepinephrine"),
        ("nor-epinephrine", "norepinephrine"),
        ("nor adrenaline", "norepinephrine"),
        ("LEVOPHED drip", "norepinephrine"),
        ("Neo-Synephrine", "phenylephrine"),
        ("neosynephrine", "phenylephrine"),
        ("Intropin", "dopamine"),
        ("vaso", "vasopressin"),
        ("TXA", "tranexamic acid"),
        ("solu-cortef", "hydrocortisone"),
        ("glucose", "dextrose"),
        ("D50", "dextrose"),
        ("Narcan", "naloxone"),
        ("Ketalar", "ketamine"),
        ("fentanyl citrate", "fentanyl"),
        ("Versed", "midazolam"),
        ("CaCl2", "calcium chloride"),
        ("0.9% saline", "crystalloid"),
        ("plasma-lyte", "crystalloid"),
        ("hypertonic saline 3 %", "hypertonic saline"),
        ("fresh frozen plasma", "blood"),
    ],
)
def test_a_drug_is_known_by_its_other_names_in_any_case_alone_or_among_other_words(told: str, drug: str) -> None:
    assert drugs(told) == (drug,)


@pytest.mark.parametrize(
    "told",
    [
        "cefazolin sodium",
        "sufentanil",
        "alfentanil",
        "esketamine",
        "levodopa",
        "vitamin D 50",
        "–",
    ],
)
def test_a_part_of_a_word_or_another_drug_is_not_found(told: str) -> None:
    assert drugs(told) == ()


def test_a_name_of_two_drugs_names_both() -> None:
    assert drugs("calcium") == ("calcium chloride", "calcium gluconate")
    assert set(drugs("ketamine and Versed")) == {"ketamine", "midazolam"}


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=["demonstration", "conservative"])
def test_every_drug_is_found_by_each_name_that_the_rules_list_and_by_its_own(rules) -> None:
    listed = [(each.drug, name) for each in rules.names for name in each.names]
    listed += [(each.drug, each.drug) for each in rules.treatments.values()]

    assert listed
    for drug, name in listed:
        found = named(f"some {name.upper()} now", rules)
        assert found is not None, name
        assert drug in found.drugs, name


def test_a_set_that_lists_no_names_knows_its_drugs_by_their_own() -> None:
    bare = replace(RULES, names=())

    assert named("Levophed", bare) is None
    assert named("Norepinephrine", bare)


@pytest.mark.parametrize(
    ("told", "value", "unit", "route", "treatment"),
    [
        ("adrenaline", 10, "mcg", "IV", PUSH),
        ("adrenaline", 1, "mg", "IV", PUSH),
        ("adrenaline", 0.5, "mg", "IM", INTO_MUSCLE),
        ("adrenaline", 4, "mcg/min", "IV", "epinephrine-infusion"),
        ("adrenaline", 0.5, "mg", "SC", None),
        ("adrenaline", 1, "mL", "IV", None),
        ("Levophed", 8, "mL/h", "IV", DRIP),
        ("Ketalar", 20, "mg", "PO", "ketamine"),
        ("calcium", 1, "g", "IV", None),
        ("cefazolin", 2, "g", "IV", None),
    ],
)
def test_a_dose_is_of_the_one_treatment_that_its_unit_and_route_leave(told, value, unit, route, treatment) -> None:
    found = treatment_told(told, Amount(value, unit), route, RULES)

    assert (found.slug if found else None) == treatment


def test_without_amount_or_route_no_treatment_can_be_told() -> None:
    assert treatment_told("Levophed", None, "IV", RULES) is None
    assert treatment_told("Levophed", Amount(8, "mcg/min"), "", RULES) is None


@pytest.mark.parametrize(
    ("told", "route", "drug_class"),
    [
        ("adrenaline", "IV", "pressor"),
        ("adrenaline", "IM", "other"),
        ("adrenaline", "", ""),
        ("Levophed", "", "pressor"),
        ("Versed", "PO", "sedative"),
        ("cefazolin", "IV", ""),
    ],
)
def test_the_class_is_known_where_all_treatments_that_it_can_be_are_of_one(told, route, drug_class) -> None:
    assert class_told(told, route, RULES) == drug_class


def test_the_class_is_that_of_what_is_given_in_the_phase() -> None:
    """Into a vein in cardiac arrest epinephrine is the dose of the arrest too, which is no pressor of the rules."""
    assert class_told("adrenaline", "IV", RULES, "transport") == "pressor"
    assert class_told("adrenaline", "IV", RULES, "arrest") == ""


def by_name(name: str, minutes_ago: float, route: str = "IV") -> Dose:
    """A dose that was told in words alone."""
    return Dose(id=name, treatment="other", name=name, given_at=ago(minutes_ago), route=route)


@pytest.mark.parametrize(
    ("dose", "found"),
    [
        (by_name("adrenaline", 1), True),
        (by_name("adrenaline", 1, "IM"), False),
        (by_name("adrenaline", 3), False),
        (by_name("cefazolin", 1), False),
    ],
    ids=["a pressor", "into the muscle", "long ago", "not in the rules"],
)
def test_what_was_told_by_a_name_alone_counts_in_the_interval_of_its_class(dose: Dose, found: bool) -> None:
    checked = check("phenylephrine-push-dose", 100, "mcg", facts(doses=(dose,)))

    texts = [each.text for each in checked.findings if each.code == "too_soon"]
    assert bool(texts) is found
    assert not found or "of adrenaline" in texts[0]
    assert not found or checked.next_at == dose.given_at + timedelta(minutes=2) > TEN


def test_an_opioid_that_was_told_by_its_name_alone_stands_beside_a_sedative() -> None:
    checked = check("ketamine", 10, "mg", facts(doses=(by_name("Sublimaze", 5),)))

    assert [each.text for each in checked.findings if each.code == "opioid_with_sedative"] == [
        "Sublimaze 5 min before: together they can stop the breathing"
    ]


def test_names_say_where_they_come_from() -> None:
    assert all(each.source in RULES.sources.values() for each in RULES.names)
    content = RULES.content | {"names": [{"drug": "atropine", "names": ["atropin"], "source": "nowhere"}]}
    with pytest.raises(reader.RuleSetFaults, match="nowhere"):
        reader.loads(reader.canonical(content))


@pytest.mark.parametrize(
    ("amount", "known"),
    [
        (Amount(0.03, "units/min"), True),
        (Amount(0.0005, "units/kg/min"), True),
        (Amount(6, "mL/h"), True),
        (Amount(20, "mg/min"), False),
    ],
)
def test_what_is_stated_otherwise_for_adults_and_children_is_known_by_either(amount: Amount, known: bool) -> None:
    """Vasopressin: units per min, of a child per kg and min."""
    found = treatment_told("vasopressin", amount, "IV", RULES)

    assert (found.slug if found else None) == ("vasopressin-infusion" if known else None)
