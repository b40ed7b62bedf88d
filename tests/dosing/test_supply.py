"""How long what is in hand lasts, and when a person must know that it will not."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from typing import Any

import pytest

from dosing.ground.facts import Amount, Facts
from dosing.held import ledger, supply
from dosing.watch.causes import Cause, watch
from tests.copying import replace
from tests.dosing.bedside import RULES
from tests.dosing.in_hand import BOLUS, DRIP, PUSH, at, bag, bolus, drip, facts, held, push, syringe

EVERY_TWO = (push(1), push(3), push(5))


def lasts(*containers: Any, doses: tuple[Any, ...] = ()) -> dict[str, datetime]:
    """To when each treatment in use lasts."""
    in_hand = ledger.holdings(facts(*containers, doses=doses), RULES)
    return {each.treatment.slug: each.lasts_to for each in supply.supplies(in_hand, RULES)}


class TestRateOfPushes:
    @pytest.mark.parametrize(
        ("pushes", "per_min"),
        [
            ([], None),
            ([(0, 1)], None),
            ([(0, 1), (2, 1)], Fraction(1, 2)),
            ([(0, 1), (2, 1), (4, 2)], Fraction(3, 4)),
            ([(0, 9), (2, 1), (4, 1), (6, 1), (8, 1)], Fraction(1, 2)),
            ([(0, 1), (11, 1)], None),
            ([(0, 1), (11, 1), (14, 1)], Fraction(1, 3)),
            ([(0, 1), (10, 1)], Fraction(1, 10)),
            ([(4, 1), (4, 1)], None),
        ],
        ids=[
            "none",
            "one",
            "two",
            "three",
            "the last four",
            "too far apart",
            "after a pause",
            "just in time",
            "at once",
        ],
    )
    def test_it_is_that_of_the_last_few(self, pushes: list[tuple[float, int]], per_min: Fraction | None) -> None:
        """mL of those after the first over the time between first and last: a rate as any other."""
        found = supply.use_of([(at(minute), Fraction(ml)) for minute, ml in pushes], RULES)
        assert found == (None if per_min is None else (at(pushes[-1][0]), per_min))

    def test_the_newest_syringe_runs_at_it(self) -> None:
        """1 mL every 2 min: 7 mL are 14 min."""
        one = held(syringe(), doses=EVERY_TWO)["syringe"]
        assert (one.left, one.lasts_to) == (7, at(5 + 14))

    def test_a_syringe_mixed_since_is_used_at_the_same_rate(self) -> None:
        known = held(syringe(), syringe(8, name="second"), doses=EVERY_TWO)
        assert (known["syringe"].lasts_to, known["second"].lasts_to) == (None, at(8 + 20))


class TestSupplies:
    def test_pushes_draw_on_all_syringes_in_hand(self) -> None:
        assert lasts(syringe(), syringe(4, name="second"), doses=EVERY_TWO) == {PUSH: at(5 + 2 * (8 + 9))}

    def test_an_infusion_runs_from_its_bags_in_turn(self) -> None:
        bags = bag(ml=50), bag(40, ml=50, name="second")
        assert lasts(*bags, doses=(drip((0, 8, "mcg/min")),)) == {DRIP: at(200)}

    @pytest.mark.parametrize(
        ("containers", "doses"),
        [
            ((), (drip((0, 8, "mcg/min")),)),
            ((syringe(),), (push(1),)),
            ((bag(),), (drip((0, 8, "mcg/min"), status="stopped", ended_at=at(9)),)),
            ((bag(treatment=BOLUS, strength=None),), (bolus(0, 100, status="running", over_min=15),)),
            ((bag(), bag(ml=10_000, name="second", at=at(2))), (drip((0, 4, "mcg/min")),)),
            ((syringe(ml=2000),), EVERY_TWO),
        ],
        ids=["nothing in hand", "one push", "stopped", "a bolus ends by itself", "beyond a day", "pushes beyond a day"],
    )
    def test_what_is_not_used_up_is_not_told(self, containers: tuple[Any, ...], doses: tuple[Any, ...]) -> None:
        assert lasts(*containers, doses=doses) == {}


def running_out(known: Facts, minutes: float) -> list[Cause]:
    """The alerts of this kind at a minute after ten."""
    return [each for each in watch(known, RULES, at(minutes)).causes if each.kind == "pressor_running_out"]


def looks_again(known: Facts, minutes: float) -> datetime | None:
    return watch(replace(known, last_contact_at=at(minutes + 60)), RULES, at(minutes)).next_at


class TestRunningOut:
    """50 mL at 0.5 mL/min from ten o'clock last to 11:40."""

    KNOWN = facts(bag(ml=50), doses=(drip((0, 8, "mcg/min")),), last_contact_at=at(0))

    def test_before_the_arrival_it_is_news_at_once(self) -> None:
        (cause,) = running_out(replace(self.KNOWN, eta=at(105)), 1)
        assert cause.text == "norepinephrine infusion lasts to 11:40 UTC, arrival 11:45 UTC"
        assert (cause.cause, cause.priority, cause.since) == (DRIP, "medium", at(0))

    def test_what_lasts_to_the_arrival_is_none(self) -> None:
        known = replace(self.KNOWN, eta=at(100))
        assert running_out(known, 99) == []
        assert looks_again(known, 90) == at(100)

    def test_an_arrival_that_has_passed_says_nothing(self) -> None:
        """Then as where none is known: 15 min before the end (our choice)."""
        known = replace(self.KNOWN, eta=at(80))
        assert running_out(known, 84) == []
        assert running_out(known, 85)[0].text == "norepinephrine infusion lasts to 11:40 UTC, arrival time unknown"

    def test_without_an_arrival_the_last_minutes_are(self) -> None:
        assert running_out(self.KNOWN, 84.99) == []
        assert looks_again(self.KNOWN, 60) == at(85)
        (cause,) = running_out(self.KNOWN, 85)
        assert cause.since == at(85)

    def test_within_five_minutes_of_its_end_it_is_high(self) -> None:
        """Contract: "medium, under 5 min high"."""
        assert [running_out(self.KNOWN, minutes)[0].priority for minutes in (94.99, 95, 130)] == [
            "medium",
            "high",
            "high",
        ]
        assert looks_again(self.KNOWN, 90) == at(95)

    def test_it_stands_past_the_end(self) -> None:
        assert len(running_out(self.KNOWN, 130)) == 1

    @pytest.mark.parametrize(
        "ended",
        [
            {"containers": (bag(ml=50), bag(80, name="second"))},
            {"doses": (drip((0, 8, "mcg/min"), status="stopped", ended_at=at(86)),)},
            {"eta": at(95)},
            {"state": "handed_over"},
            {"doses": (drip((0, 8, "mcg/min"), (86, 1, "mcg/min")),)},
        ],
        ids=["another bag", "stopped", "sooner there", "handed over", "slower"],
    )
    def test_it_ends_with_its_cause(self, ended: dict[str, Any]) -> None:
        assert running_out(self.KNOWN, 87)
        assert running_out(replace(self.KNOWN, **ended), 87) == []

    def test_pushes_at_a_rate_count(self) -> None:
        """7 mL at 1 mL every 2 min from 10:05 on."""
        known = facts(syringe(), doses=EVERY_TWO, eta=at(25))
        assert running_out(known, 6)[0].text == "EPINEPHrine push dose lasts to 10:19 UTC, arrival 10:25 UTC"

    def test_pushes_that_have_ceased_count_no_more(self) -> None:
        """A push lasts 5 to 10 min: ten minutes after the last one there is no rate (push-dose practice)."""
        known = facts(syringe(), doses=EVERY_TWO, eta=at(25))
        assert running_out(known, 14.9)
        assert looks_again(known, 14) == at(15)
        assert running_out(known, 15) == []

    def test_whatever_is_in_hand_beside_it(self) -> None:
        fentanyl = syringe(treatment="fentanyl", strength=Amount(50, "mcg/mL"), ml=2, name="other")
        assert len(running_out(replace(self.KNOWN, containers=(*self.KNOWN.containers, fentanyl)), 95)) == 1

    def test_only_pressors_are_news(self) -> None:
        fentanyl = syringe(treatment="fentanyl", strength=Amount(50, "mcg/mL"), ml=2)
        doses = tuple(push(minute, 50, treatment="fentanyl") for minute in (1, 6))
        assert lasts(fentanyl, doses=doses)
        assert running_out(facts(fentanyl, doses=doses, eta=at(90)), 7) == []

    def test_one_cause_for_each_pressor(self) -> None:
        known = facts(syringe(), bag(ml=50), doses=(*EVERY_TWO, drip((0, 8, "mcg/min"))), eta=at(200))
        assert sorted(each.cause for each in running_out(known, 6)) == [PUSH, DRIP]
