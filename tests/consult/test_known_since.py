"""What becomes known of the patient after an order, or while something runs, reaches whoever decided.

Common practice of medical control, no source: an order answers for what its physician knew.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from consult.case import entries
from consult.case.decide import cases, interventions, orders, read_back
from consult.case.decide.asked import Decided
from consult.case.decide.order_book import as_it_stood
from consult.state.case import facts_of
from consult.state.parts import Given, Order, Repeat, Said
from dosing.ground.facts import Age, Amount, Rate, Weight
from dosing.watch.causes import watch
from tests.conftest import NOON, later
from tests.consult.test_decisions import MERRIN, OSK, RULES, Story
from tests.copying import replace

CEFTRIAXONE = {"treatment": "ceftriaxone", "amount": Amount(2, "g"), "route": "IV", "over_min": 30}
NOREPINEPHRINE = {
    "treatment": "norepinephrine-infusion",
    "amount": Amount(0.1, "mcg/kg/min"),
    "route": "IV",
    "concentration": Amount(16, "mcg/mL"),
}
DOPAMINE = {**NOREPINEPHRINE, "treatment": "dopamine-infusion", "amount": Amount(5, "mcg/kg/min")}
DOPAMINE |= {"concentration": Amount(1600, "mcg/mL")}
PENICILLIN = {"allergies": ("penicillin anaphylaxis",)}
CHANGED = later(minutes=3)


class Shift(Story):
    """The septic man of 58 and 80 kg whose crew asks, gives and learns more of him."""

    def __init__(self) -> None:
        super().__init__()
        self.pressure(84, 44)

    def ordered(self, *, by: Any = OSK, back: bool = True, **what: Any) -> Order:
        """An order, read back unless said otherwise."""
        entry = entries.OrderEntry(reason="sepsis", **what)
        self.take(orders.request_order(self.known(), self.asked(entry, by, NOON)), by, NOON)
        if by is OSK:
            self.decide(self.state.orders[-1], MERRIN, decision="approve", reason="give it")
        if back:
            said = Said(**{name: what[name] for name in ("treatment", "route", "amount")})
            self.take(read_back.read_back(self.known(), self.asked(said, OSK, NOON), self.newest), OSK, NOON)
        return self.newest

    @property
    def newest(self) -> Order:
        return self.state.orders[-1]

    def gives(self, at: datetime, **what: Any) -> Decided:
        entry = entries.DoseEntry(given_at=at, **what)
        return self.take(interventions.record_intervention(self.known(), self.asked(entry, OSK, at)), OSK, at)

    def learns(self, at: datetime = CHANGED, impression: str | None = None, **patient: Any) -> Decided:
        entry = entries.CaseChangeEntry(patient=entries.PatientPart(**patient))
        if impression:
            entry = entries.CaseChangeEntry(impression=impression)
        return self.take(cases.patch(self.known(), self.asked(entry, OSK, at)), OSK, at)

    @property
    def runs(self) -> Given:
        return self.state.doses[-1]


@pytest.fixture
def shift() -> Shift:
    return Shift()


def alerts(shift: Shift, at: datetime) -> list[tuple[str, str]]:
    found = watch(facts_of(shift.state, at), RULES, at).causes
    return [(each.priority, each.text) for each in found if each.kind == "order_waiting"]


class TestAnOrder:
    @pytest.mark.parametrize("back", [True, False], ids=["read back", "approved"])
    @pytest.mark.parametrize("by", [OSK, MERRIN], ids=["requested", "placed"])
    def test_goes_back_to_the_physician_when_an_allergy_is_recorded(self, shift, by, back):
        shift.ordered(by=by, back=back, **CEFTRIAXONE)
        (_, event) = shift.learns(**PENICILLIN).events

        (order,) = shift.state.orders
        known = "allergy on record: penicillin anaphylaxis; cefTRIAXone needs an order"
        assert (event.kind, order.state, order.read_back_at, order.expires_at) == (
            "order.set_back",
            "requested",
            None,
            None,
        )
        assert (order.steps[-1].step, order.steps[-1].reason, order.waits_from) == ("decide again", known, CHANGED)
        assert alerts(shift, CHANGED) == [("medium", f"cefTRIAXone is to be decided again: {known}")], "at once"

    def test_once_it_is_decided_again_covers_what_its_physician_has_seen(self, shift):
        shift.ordered(**CEFTRIAXONE)
        shift.learns(**PENICILLIN)
        shift.decide(shift.newest, MERRIN, later(minutes=4), decision="approve", reason="rash as a child")
        assert shift.newest.for_rules().to_read_back_from == later(minutes=4)
        said = Said(treatment="ceftriaxone", route="IV", amount=Amount(2, "g"))
        asked = shift.asked(said, OSK, later(minutes=5))
        shift.take(read_back.read_back(shift.known(), asked, shift.newest), OSK, later(minutes=5))

        given = shift.gives(later(minutes=6), order=shift.newest.id, **CEFTRIAXONE)
        assert (given.happened, shift.runs.verdict, shift.state.orders) == ([], "caution", ())

    @pytest.mark.parametrize(
        ("what", "fact"),
        [
            pytest.param(CEFTRIAXONE, {"allergies": ("latex",)}, id="an allergy to something else"),
            pytest.param(CEFTRIAXONE, {"history": ("pacemaker",)}, id="a history that no rule reads for it"),
            pytest.param(CEFTRIAXONE, {"refuses_blood": True}, id="blood refused, no blood ordered"),
            pytest.param(CEFTRIAXONE, {"weight": Weight(70)}, id="another weight, an amount for all"),
        ],
    )
    def test_stays_where_nothing_new_speaks_against_it(self, shift, what, fact):
        shift.ordered(**what)
        shift.learns(**fact)

        assert shift.newest.state == "read_back"

    def test_stays_where_its_physician_saw_it(self, shift):
        shift.learns(later(minutes=-1), **PENICILLIN)
        shift.ordered(**CEFTRIAXONE)
        shift.learns(history=("seizures",))

        assert shift.newest.state == "read_back"

    @pytest.mark.parametrize(
        ("what", "fact", "words"),
        [
            pytest.param(DOPAMINE, {"history": ("maoi",)}, "over the hard limit of 2 mcg/kg/min", id="history"),
            pytest.param(
                {"treatment": "blood-product", "amount": Amount(300, "mL"), "route": "IV", "product": "red_cells"},
                {"refuses_blood": True},
                "the patient refuses blood",
                id="refused blood",
            ),
            pytest.param({**NOREPINEPHRINE}, {"care_limits": "comfort"}, "comfort care on record", id="limits of care"),
            pytest.param(
                {"treatment": "ketamine", "amount": Amount(20, "mg"), "route": "IV", "indication": "induction"},
                {"age": Age(5, "years"), "weight": Weight(9)},
                "over the standing limit of 18 mg",
                id="weight and age of a child",
            ),
        ],
    )
    def test_goes_back_for_whatever_is_known_of_the_patient(self, shift, what, fact, words):
        shift.ordered(**what)
        shift.learns(**fact)

        assert shift.newest.state == "requested"
        assert words in shift.newest.steps[-1].reason

    def test_a_child_whose_weight_is_corrected_is_decided_again(self, shift):
        """Ketamine 20 mg to a child of 20 kg are 1 mg/kg, to one of 9 kg 2.2; the rules have 2 as most."""
        shift.learns(later(minutes=-1), age=Age(5, "years"), weight=Weight(20))
        shift.ordered(treatment="ketamine", amount=Amount(20, "mg"), route="IV", indication="induction")
        shift.learns(weight=Weight(9, "kg", "measured"))

        assert shift.newest.state == "requested"

    def test_covers_a_start_after_a_push_of_which_no_pressure_is_known_yet(self, shift):
        """That pressure is asked for besides: it says nothing of the patient that speaks against the order."""
        order = shift.ordered(**NOREPINEPHRINE)
        push = {"treatment": "epinephrine-push-dose", "amount": Amount(10, "mcg"), "route": "IV"}
        shift.gives(later(minutes=1), **push)

        given = shift.gives(later(minutes=2), order=order.id, **NOREPINEPHRINE)
        assert (given.happened, shift.runs.verdict) == ([], "caution")

    def test_that_was_given_before_is_told_late_as_given_by_order_and_alarms(self, shift):
        """A crew without a link gave it at 12:02; at 12:03 the allergy was recorded."""
        order = shift.ordered(**CEFTRIAXONE)
        shift.learns(**PENICILLIN)
        assert as_it_stood(shift.newest, later(minutes=2)).state == "read_back"
        assert as_it_stood(shift.newest, later(minutes=4)).state == "requested"
        given = shift.gives(later(minutes=2), order=order.id, **CEFTRIAXONE)

        assert shift.state.orders == (), "it was carried out"
        (cause,) = given.happened
        assert (cause.kind, cause.priority) == ("dose_outside_limits", "high")
        assert "known only after Dr. Merrin ordered this at 12:00 UTC" in cause.text

    def test_of_a_series_the_rest_waits_though_one_dose_is_told_late(self, shift):
        order = shift.ordered(repeat=Repeat(2), **CEFTRIAXONE)
        shift.learns(**PENICILLIN)
        shift.gives(later(minutes=2), order=order.id, **CEFTRIAXONE)

        assert (shift.newest.state, shift.newest.given) == ("requested", 1)


BLOOD = {"treatment": "blood-product", "amount": Amount(300, "mL"), "route": "IV", "product": "red_cells"}
TRANEXAMIC = {"treatment": "tranexamic-acid", "amount": Amount(1, "g"), "route": "IV", "over_min": 10}
AMIODARONE = {"treatment": "amiodarone-infusion", "amount": Amount(1, "mg/min"), "route": "IV"}
AMIODARONE |= {"concentration": Amount(1.8, "mg/mL")}
HOURS_AGO = {"onset_at": later(minutes=-240)}


class TestWhatRuns:
    @pytest.mark.parametrize(
        ("runs", "before", "fact", "words"),
        [
            pytest.param(
                DOPAMINE, {}, {"allergies": ("sulfite",)}, "allergy on record: sulfite", id="dopamine, sulfite"
            ),
            pytest.param(
                DOPAMINE, {}, {"history": ("maoi",)}, "over the hard limit of 2 mcg/kg/min", id="dopamine, MAOI"
            ),
            pytest.param(
                TRANEXAMIC, {"onset_at": later(minutes=-40)}, HOURS_AGO, "the window of 3 h has closed", id="TXA, onset"
            ),
            pytest.param(BLOOD, {}, {"refuses_blood": True}, "the patient refuses blood", id="red cells, refused"),
            pytest.param(
                AMIODARONE,
                {},
                {"allergies": ("amiodarone",)},
                "allergy on record: amiodarone",
                id="amiodarone, allergy",
            ),
            pytest.param(NOREPINEPHRINE, {}, {"care_limits": "comfort"}, "comfort care on record", id="comfort care"),
        ],
    )
    def test_alarms_and_is_marked_when_it_would_want_an_order_by_now(self, shift, runs, before, fact, words):
        shift.learns(later(minutes=-2), impression="hemorrhagic")
        shift.learns(later(minutes=-1), **before)
        shift.gives(NOON, status="running", **runs)
        (cause,) = shift.learns(**fact).happened

        assert (cause.kind, cause.priority, cause.cause) == ("dose_outside_limits", "high", shift.runs.id)
        assert "running, and known only since 12:03 UTC: " in cause.text
        assert words in cause.text
        (mark, *_) = shift.runs.known_since
        assert (words in mark.text, mark.at) == (True, CHANGED)

    @pytest.mark.parametrize(
        ("runs", "fact"),
        [
            pytest.param(DOPAMINE, {"allergies": ("penicillin",)}, id="an allergy to something else"),
            pytest.param(TRANEXAMIC, {"onset_at": later(minutes=-90)}, id="an onset within the window"),
            pytest.param(NOREPINEPHRINE, {"refuses_blood": True}, id="blood refused, none runs"),
            pytest.param(BLOOD, {"care_limits": "no_intubation"}, id="no intubation"),
        ],
    )
    def test_is_quiet_where_nothing_speaks_against_it(self, shift, runs, fact):
        shift.learns(later(minutes=-1), onset_at=later(minutes=-40))
        shift.gives(NOON, status="running", **runs)

        assert (shift.learns(**fact).happened, shift.runs.known_since) == ([], ())

    def test_is_quiet_where_it_was_known_when_it_was_begun(self, shift):
        shift.learns(later(minutes=-1), allergies=("sulfite",))
        shift.gives(NOON, status="running", **DOPAMINE)

        assert shift.learns(history=("seizures",)).happened == []
        assert shift.learns(later(minutes=4), allergies=("sulfite", "latex")).happened == []

    def test_that_has_ended_says_nothing(self, shift):
        shift.gives(later(minutes=-5), **BLOOD)

        assert shift.learns(refuses_blood=True).happened == []

    def test_begun_within_the_window_stays_so_though_it_runs_beyond_it(self, shift):
        """Onset 2 h 55 min before: at its start the 3 h had not passed."""
        shift.learns(later(minutes=-1), onset_at=later(minutes=-60))
        shift.gives(NOON, status="running", **TRANEXAMIC)

        assert shift.learns(later(minutes=9), onset_at=later(minutes=-175)).happened == []

    def test_loses_its_mark_when_the_fact_is_taken_back(self, shift):
        shift.gives(NOON, status="running", **DOPAMINE)
        shift.learns(allergies=("sulfite",), history=("maoi",))
        assert {each.code for each in shift.runs.known_since} == {"allergy", "above_hard_limit"}
        shift.learns(later(minutes=4), allergies=())

        assert [each.code for each in shift.runs.known_since] == ["above_hard_limit"]

    def test_that_is_held_is_marked_without_an_alarm(self, shift):
        shift.gives(NOON, status="running", **DOPAMINE)
        dose = shift.runs
        held = replace(dose, status="held", rates=(*dose.rates, Rate(later(minutes=1), None)))
        shift.state = replace(shift.state, doses=(held,))

        assert shift.learns(allergies=("sulfite",)).happened == []
        assert [each.code for each in shift.runs.known_since] == ["allergy"]
