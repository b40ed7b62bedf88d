"""Limits by what a treatment is for, by route, history, pregnancy and phase: which of them a dose is held against.

The draft set below stands upon the demonstration rules; its numbers are ours, chosen to be told apart.
"""

from __future__ import annotations

from typing import Any

import pytest

from dosing.check.case import UnknownIndication
from dosing.check.limits import Check
from dosing.ground.facts import Amount, Dose, Facts, Order
from dosing.ground.phases import PhaseChange, phase_at
from dosing.load.faults import RuleSetFaults
from dosing.load.reader import read_text
from dosing.patient.reassess import opened_by
from dosing.tell.guidance import guidance
from tests.dosing.bedside import RULES, TEN, adult, ago, check, child, codes, facts, given

DRAFT_TEXT = """
extends = "demonstration"
name = "draft"
version = "1"

[treatments.exampline]
title = "exampline"
drug = "exampline"
class = "sedative"
form = "push"
routes = ["IV", "IO", "IM", "IN"]
unit = "mg"
units = ["mg", "mg/kg"]
interval = { value = 5, unit = "min", source = "choice" }
stocks = [{ amount = "5 mg/mL", source = "choice" }]
flags = ["no_pressure_since_last_dose", "measurable"]
phases = ["transport", "pulse_back"]
source = "choice"

[treatments.exampline.reassessment]
due_min = 5
grace_s = 60
needs = ["rr", "spo2", "alertness"]
source = "choice"

[treatments.exampline.indications.sedation]
title = "sedation"
source = "choice"

[treatments.exampline.indications.seizure]
title = "a seizure"
source = "choice"
relevant = ["undifferentiated"]
flags = ["measurable"]

[treatments.exampline.indications.seizure.reassessment]
due_min = 3
grace_s = 60
needs = ["rr", "spo2"]
source = "choice"

[[treatments.exampline.indications.seizure.cautions]]
text = "Have a bag and mask ready."
source = "choice"

[[treatments.exampline.bands]]
who = "adult"
least = { amount = "1 mg", source = "choice" }
most = { amount = "2 mg", source = "choice" }
hard = { amount = "5 mg", source = "choice" }

[[treatments.exampline.bands]]
who = "child"
most = { amount = "0.05 mg/kg", at_most = "2 mg", source = "choice" }
hard = { amount = "0.1 mg/kg", at_most = "5 mg", source = "choice" }

[[treatments.exampline.bands]]
who = "adult"
indications = ["seizure"]
most = { amount = "4 mg", source = "choice" }
hard = { amount = "10 mg", source = "choice" }
interval = { value = 10, unit = "min", source = "choice" }

[[treatments.exampline.bands]]
who = "adult"
indications = ["seizure"]
routes = ["IM"]
most = { amount = "10 mg", source = "choice" }

[[treatments.exampline.bands]]
who = "adult"
history = ["dialysis", "transplant"]
most = { amount = "1 mg", source = "choice" }

[[treatments.exampline.bands]]
who = "child"
history = ["dialysis", "transplant"]
most = { amount = "0.02 mg/kg", at_most = "1 mg", source = "choice" }

[[treatments.exampline.bands]]
who = "adult"
indications = ["sedation"]
from_weeks = 20
under_weeks = 43
source = "choice"
contraindicated = { text = "not for sedation in late pregnancy", source = "choice" }

[[treatments.exampline.bands]]
who = "adult"
phases = ["pulse_back"]
most = { amount = "3 mg", source = "choice" }
"""
DRAFT = read_text(DRAFT_TEXT, "draft.toml")
DRUG = "exampline"


def verdict(value: float, known: Facts | None = None, **more: Any) -> str:
    """A dose for Ada, whose pressure is fine."""
    return put(value, known or facts(sbp=120, dbp=80), **more).verdict


def put(value: float, known: Facts, route: str = "IV", **more: Any) -> Check:
    return check(DRUG, value, "mg", known, route=route, rules=DRAFT, **more)


@pytest.mark.parametrize(
    ("value", "indication", "route", "found"),
    [
        (2, None, "IV", "within"),  # without a word it is the first
        (4, None, "IV", "needs_order"),
        (2, "sedation", "IV", "within"),
        (4, "sedation", "IV", "needs_order"),
        (6, "sedation", "IV", "over_hard_limit"),
        (4, "seizure", "IV", "within"),
        (5, "seizure", "IV", "needs_order"),
        (10, "seizure", "IV", "needs_order"),
        (10, "seizure", "IM", "within"),
        (11, "seizure", "IM", "over_hard_limit"),
        (10, "sedation", "IM", "over_hard_limit"),
    ],
)
def test_a_dose_is_held_against_the_limits_of_what_it_is_for_and_how_it_is_given(value, indication, route, found):
    assert verdict(value, indication=indication, route=route) == found


def test_an_indication_that_the_treatment_lacks_is_told_with_those_it_has():
    with pytest.raises(UnknownIndication) as refused:
        verdict(2, indication="headache")
    assert (str(refused.value), refused.value.known) == ("headache", ("sedation", "seizure"))
    with pytest.raises(UnknownIndication) as refused:
        check("hydrocortisone", 100, "mg", indication="shock")
    assert refused.value.known == ()


def test_an_indication_brings_its_own_signs_reassessment_and_cautions():
    low = facts(sbp=80, dbp=40)

    assert verdict(2, low) == "needs_order"
    assert verdict(2, low, indication="seizure") == "needs_order"  # a sedative all the same: by its class
    opened = {
        for_what: opened_by(Dose(id="d", treatment=DRUG, given_at=TEN, indication=for_what), DRAFT)
        for for_what in (None, "sedation", "seizure", "one of an older set")
    }
    assert {name: asked.needs for name, asked in opened.items() if asked} == {
        **dict.fromkeys((None, "sedation", "one of an older set"), ("alertness", "rr", "spo2")),
        "seizure": ("rr", "spo2"),
    }


def test_the_interval_is_that_of_what_the_next_dose_is_for():
    after = facts(sbp=120, dbp=80, doses=(given(DRUG, 6, 2, "mg"),))

    assert "too_soon" not in codes(put(2, after))
    seizure = put(2, after, indication="seizure")
    assert ("too_soon" in codes(seizure), seizure.next_at) == (True, ago(-4))


@pytest.mark.parametrize(
    ("history", "found"), [((), "within"), (("dialysis",), "needs_order"), (("maoi", "transplant"), "needs_order")]
)
def test_a_band_for_a_history_is_for_those_who_have_any_of_it(history, found):
    assert verdict(2, facts(adult(history=history), sbp=120, dbp=80)) == found


@pytest.mark.parametrize(
    ("weeks", "indication", "found"),
    [
        (None, None, "within"),
        (19, None, "within"),
        (20, None, "over_hard_limit"),
        (42, None, "over_hard_limit"),
        (43, None, "within"),
        (30, "seizure", "within"),
    ],
)
def test_what_is_contraindicated_is_over_a_hard_limit_for_whom_it_is(weeks, indication, found):
    pregnant = facts(adult(pregnancy_weeks=weeks), sbp=120, dbp=80)
    assert verdict(2, pregnant, indication=indication) == found


@pytest.mark.parametrize(
    ("phase", "found"),
    [
        ("transport", {"above_most"}),
        ("arrest", {"above_most", "phase"}),
        ("pulse_back", set()),
        ("ended", {"above_most", "phase"}),
    ],
)
def test_a_treatment_is_given_in_its_phases_and_by_the_limits_of_the_phase(phase, found):
    then = facts(phases=(PhaseChange("p", phase, ago(3)),), sbp=120, dbp=80)
    assert codes(put(3, then)) == found


def order(indication: str | None) -> Order:
    return Order(id="o", treatment=DRUG, state="read_back", amount=Amount(4, "mg"), route="IV", indication=indication)


@pytest.mark.parametrize(
    ("ordered", "for_what", "found"),
    [
        (None, None, "caution"),
        (None, "sedation", "caution"),  # the first, said or not
        ("sedation", None, "caution"),
        ("seizure", None, "needs_order"),
        (None, "seizure", "within"),
    ],
)
def test_an_order_covers_what_it_is_for(ordered, for_what, found):
    assert verdict(4, order=order(ordered), indication=for_what, route="IV") == found


def row(known: Facts, treatment: str = DRUG) -> dict[str, Any]:
    return next(each for each in guidance(known, DRAFT, TEN) if each["treatment"] == treatment)


def test_guidance_has_one_row_a_treatment_with_its_indications_inside():
    shown = row(facts(sbp=120, dbp=80))

    assert (shown["indication"], shown["for_what"], shown["most"]) == (
        "sedation",
        "sedation",
        {"value": 2, "unit": "mg"},
    )
    inside = [(each["indication"], each["for_what"], each["most"]["value"]) for each in shown["indications"]]
    assert inside == [("sedation", "sedation", 2), ("seizure", "a seizure", 4)]
    assert [each["relevant"] for each in shown["indications"]] == [False, True]
    assert shown["relevant"]  # one of them is
    assert row(facts(), "hydrocortisone")["indications"] == []
    assert "Have a bag and mask ready." in shown["indications"][1]["cautions"]
    assert "Have a bag and mask ready." not in shown["cautions"]


def test_guidance_tells_the_amounts_of_routes_that_have_limits_of_their_own():
    for_sedation, for_seizure = row(facts(sbp=120, dbp=80))["indications"]

    assert for_sedation["by_route"] == []
    told = [(each["routes"], each["most"]["value"]) for each in for_seizure["by_route"]]
    assert told == [(["IV", "IO", "IN"], 4), (["IM"], 10)]
    assert [each["amount"]["value"] for each in for_seizure["by_route"][1]["usual"]][-1] == 10


def test_what_is_offered_for_each_route_and_indication_passes_its_own_check():
    known = facts(child(9, 30), sbp=110, dbp=70)
    for treatment in guidance(known, DRAFT, TEN):
        for for_what in treatment["indications"] or [treatment]:
            for offered in for_what["by_route"] or [{**for_what, "routes": for_what["routes"]}]:
                for route, usual in ((route, each) for route in offered["routes"] for each in offered["usual"]):
                    amount = usual["amount"]
                    checked = check(
                        *(treatment["treatment"], amount["value"], amount["unit"], known),
                        route=route,
                        rules=DRAFT,
                        indication=for_what["indication"] or None,
                    )
                    assert not codes(checked) & {"above_most", "above_hard_limit", "route_not_allowed"}


def test_a_set_without_such_keys_is_read_as_it_was():
    plain = {slug: known for slug, known in RULES.given_for.items() if not RULES.treatments[slug].indications}
    assert plain
    assert all(known == (RULES.treatments[slug],) for slug, known in plain.items())


def test_a_fault_in_the_limits_of_one_indication_and_route_is_found_at_its_entry():
    with pytest.raises(RuleSetFaults) as refused:
        read_text(
            DRAFT_TEXT
            + """
[[treatments.exampline.bands]]
who = "child"
indications = ["seizure"]
routes = ["IN"]
most = { amount = "0.2 mg/kg", at_most = "2 mg", source = "choice" }
""",
            "draft.toml",
        )
    found = [(fault.entry.rpartition(".")[2], fault.text) for fault in refused.value.faults]
    assert [name for name, _ in found] == ["most"]
    assert "exceeds" in found[0][1]


@pytest.mark.parametrize(
    ("minutes", "phase"), [(11, "transport"), (10, "arrest"), (4.1, "arrest"), (4, "pulse_back"), (0, "pulse_back")]
)
def test_the_phase_at_a_moment_is_the_last_that_had_begun(minutes, phase):
    changes = (PhaseChange("1", "arrest", ago(10)), PhaseChange("2", "pulse_back", ago(4)))
    assert (phase_at(changes, ago(minutes)), phase_at((), ago(minutes))) == (phase, "transport")
