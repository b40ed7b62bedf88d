"""What is in hand, from the entry to the card: recorded, drawn from, discarded, corrected; the alert before its end."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import problems
from consult.actions import alerts, batch, cases, containers, corrections, interventions
from consult.models import Alert, Container
from tests.conftest import NOON, Cast, Consult, later, open_consult

PUSH, DRIP, BOLUS = "epinephrine-push-dose", "norepinephrine-infusion", "crystalloid-bolus"
TEN_MCG, SIXTEEN = {"value": 10, "unit": "mcg/mL"}, {"value": 16, "unit": "mcg/mL"}


def ml(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mL"}


def mix(consult: Consult, *, at: Any = NOON, by: Any = None, arrival: Any = None, **more: Any) -> UUID:
    """Mix a push-dose syringe, or what is said instead."""
    made = {"form": "syringe", "treatment": PUSH, "strength": TEN_MCG, "volume": ml(10), "at": at, **more}
    data = {"id": uuid4(), **{name: value for name, value in made.items() if value is not None}}
    containers.record_container(by or consult.cast.osk, consult.uid, data, at, arrival)
    return data["id"]


def hang(consult: Consult, rate: float = 8, volume: float = 250, *, at: Any = NOON) -> UUID:
    """Start norepinephrine from a bag: mcg/min of 16 mcg per mL."""
    bag = {"concentration": SIXTEEN, "container_ml": volume, "status": "running"}
    return UUID(consult.give(DRIP, rate, "mcg/min", at=at, **bag).resource.id)


def throw(consult: Consult, held: UUID, *, at: Any, by: Any = None, **more: Any) -> Any:
    return containers.discard(by or consult.cast.osk, held, {"id": uuid4(), "at": at, **more}, at)


def change(consult: Consult, drip: UUID, at: Any, **what: Any) -> None:
    interventions.change_intervention(consult.cast.osk, drip, {"id": uuid4(), "at": at, **what}, at)


def correct(consult: Consult, kind: str, uid: UUID, at: Any = NOON) -> None:
    data = {"id": uuid4(), "target": {"kind": kind, "id": uid}, "reason": "mistyped"}
    corrections.correct(consult.cast.osk, consult.uid, data, at)


def in_hand(consult: Consult) -> list[tuple[str, float]]:
    """What is on the card's list, with the mL left."""
    return [(line["what"], line["left"]["value"]) for line in consult.card["in_hand"]]


class TestASyringe:
    def test_it_is_on_the_card_with_all_that_its_label_says(self, consult: Consult) -> None:
        mix(consult, checked_by="B. Lund")
        (line,) = consult.card["in_hand"]

        assert line["shown"] == "EPINEPHrine push dose 10 mcg per mL, 10 mL syringe"
        assert (line["mixed_at"], line["discard_at"]) == ("2030-01-05T12:00:00Z", "2030-01-05T16:00:00Z")
        assert (line["mixed_by"], line["checked_by"]) == ("J. Osk", "B. Lund")
        assert (line["doses_left"]["fewest"], line["doses_left"]["many"]) == (5, 10)

    def test_doses_draw_from_it(self, consult: Consult) -> None:
        mix(consult)
        for minute in (1, 3):
            consult.give(PUSH, 20, "mcg", at=later(minutes=minute))
        (line,) = consult.card["in_hand"]

        assert (line["left"], line["doses_left"]["fewest"], line["doses_left"]["last"]) == (ml(6), 3, True)
        assert line["lasts_to"] == "2030-01-05T12:09:00Z"

    def test_a_dose_too_many_is_told_on_the_card(self, consult: Consult) -> None:
        mix(consult)
        for minute in range(6):
            consult.give(PUSH, 20, "mcg", at=later(minutes=2 * minute))

        assert consult.card["in_hand"][0]["note"] == "drawn 12 mL of a 10 mL syringe: a dose is double or missing"

    def test_a_dose_entered_in_error_was_not_drawn(self, consult: Consult) -> None:
        mix(consult)
        dose = consult.give(PUSH, 20, "mcg", at=later(minutes=1))
        correct(consult, "intervention", UUID(dose.resource.id))

        assert in_hand(consult) == [("EPINEPHrine push dose", 10)]

    def test_it_can_be_entered_in_error(self, consult: Consult) -> None:
        correct(consult, "container", mix(consult))

        assert in_hand(consult) == []
        assert Container.objects.get().in_error
        assert consult.kinds[-2:] == ["container.recorded", "entry.corrected"]

    def test_discarded_it_is_in_hand_no_more(self, consult: Consult) -> None:
        held = mix(consult)
        thrown = throw(consult, held, at=later(minutes=9), reason="touched the floor")

        assert in_hand(consult) == []
        assert thrown.resource.discarded_because == "touched the floor"
        discarded = next(line for line in consult.journal if line["kind"] == "container.discarded")
        assert discarded["data"]["shown"] == "EPINEPHrine push dose 10 mcg per mL, 10 mL syringe"

    def test_discarding_is_done_once(self, consult: Consult) -> None:
        held = mix(consult)
        throw(consult, held, at=later(minutes=1))
        with pytest.raises(problems.WrongState):
            throw(consult, held, at=later(minutes=2))

    def test_not_before_it_was_there_and_not_in_error(self, consult: Consult) -> None:
        held = mix(consult, at=later(minutes=5))
        with pytest.raises(problems.Invalid):
            throw(consult, held, at=later(minutes=4))
        correct(consult, "container", held)
        with pytest.raises(problems.WrongState):
            throw(consult, held, at=later(minutes=6))

    def test_it_is_discarded_at_the_handover(self, consult: Consult) -> None:
        mix(consult)
        cases.handover(consult.cast.osk, consult.uid, {"to": "Marrowby", "at": later(minutes=30)}, later(minutes=30))

        assert consult.card["in_hand"][0]["discard_at"] == "2030-01-05T12:30:00Z"

    def test_another_unit_and_another_agency_find_none(self, consult: Consult) -> None:
        held = mix(consult)
        for stranger in (consult.cast.lund, consult.cast.tarn):
            with pytest.raises(problems.NotFound):
                throw(consult, held, at=later(minutes=1), by=stranger)

    @pytest.mark.parametrize(
        ("wrong", "pointer"),
        [
            ({"treatment": "moonshine"}, "/treatment"),
            ({"strength": {"value": 10, "unit": "units/mL"}}, "/strength/unit"),
            ({"strength": None}, "/strength"),
            ({"strength": {"value": 1e-300, "unit": "mcg/mL"}}, "/strength"),
            ({"volume": ml(1e-300)}, "/volume"),
        ],
    )
    def test_what_cannot_be_understood_is_refused(self, consult: Consult, wrong: Any, pointer: str) -> None:
        with pytest.raises(problems.Invalid) as refused:
            mix(consult, **wrong)
        assert refused.value.errors[0]["pointer"] == pointer

    def test_a_strength_that_nobody_mixes_is_kept_and_told(self, consult: Consult) -> None:
        mix(consult, strength={"value": 100, "unit": "mcg/mL"})

        assert consult.card["in_hand"][0]["note"] == "100 mcg per mL in hand, usual 10 mcg per mL"

    def test_what_the_rules_lack_is_kept_by_its_name(self, consult: Consult) -> None:
        mix(consult, treatment=None, name="ephedrine", strength={"value": 5, "unit": "mg/mL"})

        assert consult.card["in_hand"][0]["shown"] == "ephedrine 5 mg per mL, 10 mL syringe"


class TestABag:
    def test_an_infusion_hangs_it(self, consult: Consult) -> None:
        """0.5 mL/min of 250 mL: 8 h 20 min."""
        hang(consult)
        (line,) = consult.card["in_hand"]

        assert line["shown"] == "norepinephrine infusion 16 mcg per mL, 250 mL bag"
        assert (line["rate"], line["lasts_to"]) == ({"value": 30, "unit": "mL/h"}, "2030-01-05T20:20:00Z")
        assert consult.kinds.count("container.recorded") == 0

    @pytest.mark.parametrize(
        "how",
        [
            {"status": "running", "concentration": SIXTEEN},
            {"container_ml": 250, "concentration": SIXTEEN},
            {"status": "running", "concentration": SIXTEEN, "container_ml": 250, "prior": True},
        ],
        ids=["no volume", "not running", "hung by others"],
    )
    def test_else_nothing_is_hung(self, consult: Consult, how: dict[str, Any]) -> None:
        consult.give(DRIP, 8, "mcg/min", **how)
        assert in_hand(consult) == []

    def test_a_small_one_is_a_syringe(self, consult: Consult) -> None:
        hang(consult, volume=50)
        assert consult.card["in_hand"][0]["form"] == "syringe"

    def test_a_bolus_hangs_its_bag_too(self, consult: Consult) -> None:
        consult.give(BOLUS, 500, "mL", container_ml=1000)
        assert in_hand(consult) == [("crystalloid bolus", 500)]

    def test_a_new_rate_and_the_end_count(self, consult: Consult) -> None:
        drip = hang(consult)
        change(consult, drip, later(minutes=60), amount={"value": 16, "unit": "mcg/min"})
        assert consult.card["in_hand"][0]["lasts_to"] == "2030-01-05T16:40:00Z"
        change(consult, drip, later(minutes=80), status="stopped")
        assert in_hand(consult) == [("norepinephrine infusion", 200)]

    def test_a_new_weight_changes_no_rate_that_runs(self, consult: Consult) -> None:
        bag = {"concentration": SIXTEEN, "container_ml": 250, "status": "running"}
        consult.give(DRIP, 0.1, "mcg/kg/min", **bag)
        before = consult.card["in_hand"][0]["lasts_to"]
        weight = {"weight": {"value": 40, "unit": "kg", "basis": "measured"}}
        cases.patch_case(consult.cast.osk, consult.uid, {"patient": weight}, later(minutes=1))

        assert consult.card["in_hand"][0]["lasts_to"] == before == "2030-01-05T20:20:00Z"

    def test_it_goes_with_the_entry_that_hung_it(self, consult: Consult) -> None:
        correct(consult, "intervention", hang(consult))
        assert in_hand(consult) == []

    def test_it_is_discarded_under_the_id_of_its_entry(self, consult: Consult) -> None:
        throw(consult, hang(consult), at=later(minutes=5))
        assert in_hand(consult) == []

    def test_a_bag_that_was_mixed_before_is_named(self, consult: Consult) -> None:
        bag = mix(consult, form="bag", treatment=DRIP, strength=SIXTEEN, volume=ml(250))
        consult.give(DRIP, 8, "mcg/min", status="running", concentration=SIXTEEN, container=bag, container_ml=250)

        assert [line["id"] for line in consult.card["in_hand"]] == [str(bag)]

    def test_one_of_another_case_is_not_found(self, cast: Cast) -> None:
        here, there = open_consult(cast), open_consult(cast)
        with pytest.raises(problems.Invalid) as refused:
            here.give(PUSH, 10, "mcg", container=mix(there))
        assert refused.value.errors[0]["pointer"] == "/container"

    def test_a_volume_beyond_measure_is_refused(self, consult: Consult) -> None:
        with pytest.raises(problems.Invalid) as refused:
            hang(consult, volume=1e-300)
        assert refused.value.errors[0]["pointer"] == "/container_ml"

    def test_so_is_one_that_was_infused(self, consult: Consult) -> None:
        drip = hang(consult)
        with pytest.raises(problems.Invalid) as refused:
            change(consult, drip, later(minutes=1), status="stopped", infused=ml(1e-300))
        assert refused.value.errors[0]["pointer"] == "/infused"


class TestACylinder:
    CYLINDER = {"form": "cylinder", "treatment": None, "strength": None, "volume": None}
    GAS = {"size": "E", "pressure": {"value": 1200, "unit": "psi"}}

    def test_it_lasts_as_the_flow_says(self, consult: Consult) -> None:
        """(1200 - 200) x 0.28 / 4 is 70 min, as public oxygen calculators work it."""
        mix(consult, **self.CYLINDER, cylinder=self.GAS)
        consult.vitals(at=NOON, spo2=94, oxygen_l_min=4)
        (line,) = consult.card["in_hand"]

        assert line["shown"] == "Oxygen, E cylinder, 1,200 psi"
        assert (line["volume"], line["lasts_to"]) == ({"value": 280, "unit": "L"}, "2030-01-05T13:10:00Z")
        assert line["rate"] == {"value": 4, "unit": "L/min"}

    def test_a_flow_that_arrives_late_counts_from_its_time(self, consult: Consult) -> None:
        mix(consult, **self.CYLINDER, cylinder=self.GAS)
        for minute in range(0, 50, 10):
            consult.vitals(at=later(minutes=minute), oxygen_l_min=4)
        consult.vitals(at=later(minutes=20, seconds=1), now=later(minutes=50), oxygen_l_min=0)
        consult.vitals(at=later(minutes=29, seconds=59), now=later(minutes=50), oxygen_l_min=0)

        assert consult.card["in_hand"][0]["lasts_to"] == "2030-01-05T13:19:59Z"

    def test_of_many_readings_of_one_flow_few_are_kept(self, consult: Consult) -> None:
        import msgspec

        for minute in range(9):
            consult.vitals(at=later(minutes=minute), oxygen_l_min=10)
        kept = msgspec.json.decode(consult.row.folded)["oxygen"]
        assert [each["at"][11:16] for each in kept] == ["12:00", "12:05", "12:08"]

    def test_its_own_factor_is_shown(self, consult: Consult) -> None:
        own = {"factor": {"value": 2, "unit": "L/bar"}, "pressure": {"value": 200, "unit": "bar"}}
        mix(consult, **self.CYLINDER, cylinder=own)

        assert consult.card["in_hand"][0]["shown"] == "Oxygen, 2 L/bar cylinder, 200 bar"


def running_out(consult: Consult) -> list[str]:
    return [alert["text"] for alert in consult.card["alerts"] if alert["kind"] == "pressor_running_out"]


def arrive(consult: Consult, minutes: float, *, at: Any) -> None:
    cases.patch_case(consult.cast.osk, consult.uid, {"eta": later(minutes=minutes)}, at)


class TestRunningOut:
    """A 50 mL bag at 0.5 mL/min lasts to 13:40."""

    def test_it_is_raised_with_the_entry_where_it_ends_before_the_arrival(self, cast: Cast) -> None:
        consult = open_consult(cast, eta=later(minutes=105))
        hang(consult, volume=50)

        assert running_out(consult) == ["norepinephrine infusion lasts to 13:40 UTC, arrival 13:45 UTC"]
        assert Alert.objects.get(kind="pressor_running_out").priority == "medium"

    def test_time_raises_it_once_where_no_arrival_is_known(self, consult: Consult) -> None:
        hang(consult, volume=50)
        alerts.sweep(later(minutes=84, seconds=59))
        assert running_out(consult) == []
        assert consult.row.wake_at <= later(minutes=85)
        for second in range(5):
            alerts.sweep(later(minutes=85, seconds=second))

        assert running_out(consult) == ["norepinephrine infusion lasts to 13:40 UTC, arrival time unknown"]
        assert Alert.objects.filter(kind="pressor_running_out").count() == 1

    def test_a_new_rate_tells_it_anew_and_raises_no_second(self, cast: Cast) -> None:
        consult = open_consult(cast, eta=later(minutes=105))
        drip = hang(consult, volume=50)
        change(consult, drip, later(minutes=20), amount={"value": 16, "unit": "mcg/min"})

        assert running_out(consult) == ["norepinephrine infusion lasts to 13:00 UTC, arrival 13:45 UTC"]
        assert Alert.objects.filter(kind="pressor_running_out").count() == 1
        assert Alert.objects.get(kind="pressor_running_out").text == running_out(consult)[0]

    def test_what_was_acknowledged_stays_so_when_it_is_told_anew(self, cast: Cast) -> None:
        consult = open_consult(cast, eta=later(minutes=105))
        drip = hang(consult, volume=50)
        alerts.acknowledge(cast.merrin, Alert.objects.get(kind="pressor_running_out").uid, {"id": uuid4()}, NOON)
        change(consult, drip, later(minutes=20), amount={"value": 9, "unit": "mcg/min"})

        assert Alert.objects.get(kind="pressor_running_out").acknowledged_at == NOON

    @pytest.mark.parametrize("what", ["another bag", "stopped", "sooner there", "entered in error"])
    def test_it_clears_with_its_cause(self, cast: Cast, what: str) -> None:
        consult = open_consult(cast, eta=later(minutes=105))
        drip, soon = hang(consult, volume=50), later(minutes=10)
        assert running_out(consult)
        if what == "another bag":
            mix(consult, at=soon, form="bag", treatment=DRIP, strength=SIXTEEN, volume=ml(50))
        elif what == "stopped":
            change(consult, drip, soon, status="stopped")
        elif what == "sooner there":
            arrive(consult, 90, at=soon)
        else:
            correct(consult, "intervention", drip, soon)

        assert running_out(consult) == []
        assert Alert.objects.get(kind="pressor_running_out").cleared_because == "the cause is gone"

    def test_a_later_arrival_raises_it(self, cast: Cast) -> None:
        consult = open_consult(cast, eta=later(minutes=90))
        hang(consult, volume=50)
        assert running_out(consult) == []
        arrive(consult, 120, at=later(minutes=5))

        assert running_out(consult) == ["norepinephrine infusion lasts to 13:40 UTC, arrival 14:00 UTC"]

    def test_pushes_at_a_rate_raise_it_and_it_ends_when_they_do(self, cast: Cast) -> None:
        consult = open_consult(cast, eta=later(minutes=25))
        mix(consult)
        for minute in (1, 3, 5):
            consult.give(PUSH, 10, "mcg", at=later(minutes=minute))
        assert running_out(consult) == ["EPINEPHrine push dose lasts to 12:19 UTC, arrival 12:25 UTC"]
        alerts.sweep(later(minutes=15, seconds=1))

        assert running_out(consult) == []

    def test_what_arrives_in_one_batch_raises_nothing_in_between(self, cast: Cast) -> None:
        """A bag and the one mixed to follow it, both told of late: no alert for the moment between them."""
        consult, now = open_consult(cast, eta=later(minutes=105)), later(minutes=5)
        with batch.arriving(cast.osk, now) as arrival:
            bag = {"concentration": SIXTEEN, "container_ml": 50, "status": "running"}
            consult.give(DRIP, 8, "mcg/min", now=now, arrival=arrival, **bag)
            mix(consult, arrival=arrival, form="bag", treatment=DRIP, strength=SIXTEEN, volume=ml(250))

        assert not Alert.objects.filter(kind="pressor_running_out").exists()
