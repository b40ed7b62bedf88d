"""What doses, infusions, boluses and oxygen draw, and from which syringe, bag or cylinder."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from dosing.ground.facts import Amount, Dose, Rate, Weight
from dosing.held import draws
from tests.dosing.in_hand import BOLUS, at, bag, bolus, cylinder, drip, flow, held, left, push, syringe

OTHER = {"strength": Amount(20, "mcg/mL"), "name": "other"}


class TestPushes:
    """The syringe of the rules: 100 mcg in 10 mL, so that 20 mcg are 2 mL (reference/rules, "Preparing")."""

    @pytest.mark.parametrize(
        ("doses", "ml"),
        [
            ((), 10),
            ((push(1),), 9),
            ((push(1, 20), push(3, 20), push(5, 20), push(7, 20)), 2),
            ((push(1, 0.02, amount=Amount(0.02, "mg")),), 8),
            ((push(1, amount=Amount(0.25, "mcg/kg"), weight=Weight(80)),), 8),
            ((push(1, amount=Amount(0.25, "mcg/kg")),), 10),
            ((push(-1),), 10),
            ((push(1, prior=True),), 10),
            ((push(1, treatment="other", name="ephedrine"),), 10),
            ((push(1, treatment="phenylephrine-push-dose", amount=Amount(100, "mcg")),), 10),
            ((push(1, amount=Amount(3, "mL")),), 7),
        ],
        ids=[
            "none",
            "one",
            "four",
            "in mg",
            "per kg",
            "per kg unweighed",
            "before it was mixed",
            "by others",
            "not in the rules",
            "another drug",
            "told in mL",
        ],
    )
    def test_each_draws_its_volume(self, doses: tuple[Any, ...], ml: float) -> None:
        assert left(syringe(), doses=doses) == {"syringe": ml}

    def test_the_newest_in_hand_is_drawn_from(self) -> None:
        assert left(syringe(), syringe(4, name="second"), doses=(push(1), push(5, 20))) == {"syringe": 9, "second": 8}

    def test_one_that_was_discarded_is_not(self) -> None:
        first, second = syringe(), syringe(2, name="second", discarded_at=at(3))
        assert left(first, second, doses=(push(4, 20),)) == {"syringe": 8}

    def test_one_that_is_named_is(self) -> None:
        assert left(syringe(), syringe(4, name="second"), doses=(push(5, container="syringe"),))["syringe"] == 9

    @pytest.mark.parametrize(
        ("stock", "drawn_from"),
        [
            (None, "other"),
            (Amount(20, "mcg/mL"), "other"),
            (Amount(10, "mcg/mL"), "syringe"),
            (Amount(0.1, "mg/mL"), "syringe"),
            (Amount(0.01, "mg/mL"), "syringe"),
        ],
        ids=["not stated", "the other's", "the recipe's", "the vial that the recipe dilutes", "spelled in mg"],
    )
    def test_a_strength_that_is_stated_chooses(self, stock: Amount | None, drawn_from: str) -> None:
        known = left(syringe(), syringe(1, **OTHER), doses=(push(2, 20, stock=stock),))
        assert {name for name, ml in known.items() if ml < 10} == {drawn_from}

    def test_more_than_was_in_it_is_kept(self) -> None:
        one = held(syringe(), doses=tuple(push(minute, 20) for minute in range(1, 7)))["syringe"]
        assert (one.left, one.drawn) == (0, 12)

    @given(some.lists(some.integers(1, 40), max_size=12))
    def test_what_was_drawn_and_what_is_left_are_what_was_in_it(self, doses: list[int]) -> None:
        given_doses = tuple(push(1 + minute, mcg) for minute, mcg in enumerate(doses))
        one = held(syringe(), doses=given_doses)["syringe"]
        assert one.drawn * 10 == sum(doses)
        assert one.left == max(0, one.volume - one.drawn)


class TestInfusions:
    """4 mg in 250 mL are 16 mcg per mL (norepinephrine label): 8 mcg/min run at 0.5 mL/min, so 250 mL last 8 h 20."""

    @pytest.mark.parametrize(
        ("rate", "lasts_min"),
        [
            ((0, 8, "mcg/min"), 500),
            ((0, 0.1, "mcg/kg/min"), 500),
            ((0, 30, "mL/h"), 500),
            ((0, 0.2, "mcg/kg/min"), 250),
        ],
        ids=["mcg/min", "by weight", "pump rate", "twice as fast"],
    )
    def test_the_bag_lasts_as_its_rate_says(self, rate: tuple[float, float, str], lasts_min: float) -> None:
        assert held(bag(), doses=(drip(rate),))["bag"].lasts_to == at(lasts_min)

    def test_a_new_rate_counts_from_its_time(self) -> None:
        one = held(bag(), doses=(drip((0, 8, "mcg/min"), (60, 16, "mcg/min")),))["bag"]
        assert (one.left, one.left_at, one.lasts_to) == (220, at(60), at(60 + 220))

    def test_stopped_it_lasts(self) -> None:
        one = held(bag(), doses=(drip((0, 8, "mcg/min"), status="stopped", ended_at=at(100)),))["bag"]
        assert (one.left, one.lasts_to) == (200, None)

    def test_the_pump_knows_better_what_went_in(self) -> None:
        ended = drip((0, 8, "mcg/min"), status="finished", ended_at=at(100), infused=Amount(62, "mL"))
        assert left(bag(), doses=(ended,)) == {"bag": 188}

    def test_a_weight_that_is_not_known_says_nothing_of_a_rate_per_kg(self) -> None:
        one = held(bag(), doses=(drip((0, 0.1, "mcg/kg/min"), kg=None),))["bag"]
        assert (one.left, one.lasts_to) == (250, None)

    def test_a_strength_that_was_not_stated_is_the_bags(self) -> None:
        assert held(bag(), doses=(drip((0, 8, "mcg/min"), concentration=None),))["bag"].lasts_to == at(500)

    def test_its_own_bag_runs_out_and_then_the_next(self) -> None:
        own = bag(ml=50, name="drip", hung=True)
        known = held(own, bag(40, ml=50, name="second"), doses=(drip((0, 8, "mcg/min")),))
        assert {name: each.lasts_to for name, each in known.items()} == {"drip": at(100), "second": at(200)}

    def test_a_bag_that_was_thrown_away_hands_over_at_once(self) -> None:
        own = bag(ml=50, name="drip", hung=True, discarded_at=at(60))
        second = held(own, bag(40, ml=50, name="second"), doses=(drip((0, 8, "mcg/min")),))["second"]
        assert (second.left_at, second.lasts_to) == (at(60), at(160))

    def test_one_mixed_before_is_a_spare_too(self) -> None:
        own = bag(ml=50, name="drip", hung=True)
        known = held(bag(-10, ml=50, name="spare"), own, doses=(drip((0, 8, "mcg/min")),))
        assert {name: each.lasts_to for name, each in known.items()} == {"spare": at(200), "drip": at(100)}

    def test_one_mixed_after_the_first_was_empty_runs_from_then(self) -> None:
        known = held(bag(ml=50), bag(130, ml=50, name="second"), doses=(drip((0, 8, "mcg/min")),))
        assert known["second"].lasts_to == at(230)

    def test_what_should_be_empty_still_says_when_it_was(self) -> None:
        """A rate changed after that: something runs still, and nobody has said from what."""
        one = held(bag(ml=50), doses=(drip((0, 8, "mcg/min"), (120, 12, "mcg/min")),))["bag"]
        assert (one.left, one.lasts_to) == (0, at(100))

    def test_another_strength_is_another_bag(self) -> None:
        assert left(bag(strength=Amount(64, "mcg/mL")), doses=(drip((0, 8, "mcg/min"), status="stopped"),)) == {
            "bag": 250
        }

    def test_by_the_strength_that_was_stated_the_bag_is_found(self) -> None:
        """8 mcg/min of 64 mcg per mL for an hour are 7.5 mL."""
        strong, stated = (
            bag(name="strong", strength=Amount(64, "mcg/mL")),
            {"concentration": None, "stock": Amount(64, "mcg/mL")},
        )
        ended = drip((2, 8, "mcg/min"), status="stopped", ended_at=at(62), **stated)
        assert left(strong, bag(1, name="newer"), doses=(ended,)) == {"strong": 242.5, "newer": 250}

    def test_the_bag_of_another_infusion_is_left_alone(self) -> None:
        own, other = bag(name="drip", hung=True), bag(name="other drip", hung=True)
        stopped = {"status": "stopped", "ended_at": at(100)}
        known = left(own, other, doses=(drip((0, 8, "mcg/min"), **stopped),))
        assert known == {"drip": 200, "other drip": 250}

    def test_beyond_a_day_no_clock_time_is_told(self) -> None:
        assert held(bag(), doses=(drip((0, 0.1, "mcg/min")),))["bag"].lasts_to is None

    @given(some.lists(some.tuples(some.integers(1, 60), some.integers(1, 40)), min_size=1, max_size=6))
    def test_steps_of_rate_add_up(self, steps: list[tuple[int, int]]) -> None:
        """Minutes x rate, step by step, is what has run in, whatever the steps."""
        rates, minute, run = [], 0, 0
        for length, rate in steps:
            rates.append((minute, rate, "mL/h"))
            minute, run = minute + length, run + length * rate
        ended = drip(*rates, status="stopped", ended_at=at(minute))
        assert left(bag(ml=1000), doses=(ended,))["bag"] == pytest.approx(1000 - run / 60)


class TestVolumeRun:
    """What has run in by the rates alone, whatever it came from: 8 mcg/min of 16 mcg per mL are 0.5 mL a minute."""

    HELD = Rate(at(40), None)
    AGAIN = Rate(at(60), Amount(16, "mcg/min"), Weight(80))

    @pytest.mark.parametrize(
        ("dose", "ml"),
        [
            (drip((0, 8, "mcg/min"), ended_at=at(100)), 50),
            (drip((0, 0.1, "mcg/kg/min"), ended_at=at(100)), 50),
            (drip((0, 8, "mcg/min"), (60, 16, "mcg/min"), ended_at=at(100)), 70),
            (drip((0, 30, "mL/h"), ended_at=at(100), concentration=None), 50),
            (drip((0, 8, "mcg/min"), (120, 16, "mcg/min"), ended_at=at(100)), 50),
            (drip((0, 8, "mcg/min")), None),
            (drip((0, 8, "mcg/min"), ended_at=at(100), rates=()), None),
            (drip((0, 8, "mcg/min"), ended_at=at(100), concentration=None), None),
            (drip((0, 0.1, "mcg/kg/min"), ended_at=at(100), kg=None), None),
        ],
        ids=[
            "one rate",
            "by weight",
            "a new rate",
            "a pump rate needs no strength",
            "a rate after its end",
            "it runs",
            "no rate is known",
            "no strength is known",
            "no weight is known",
        ],
    )
    def test_it_is_the_sum_of_rate_and_time(self, dose: Dose, ml: float | None) -> None:
        assert draws.volume_run(dose) == ml

    def test_nothing_runs_while_it_is_held(self) -> None:
        rates = (Rate(at(0), Amount(8, "mcg/min"), Weight(80)), self.HELD, self.AGAIN)
        assert draws.volume_run(drip((0, 8, "mcg/min"), rates=rates, ended_at=at(80))) == 40


class TestFluids:
    LITER = {"treatment": BOLUS, "strength": None, "name": "bolus", "hung": True}

    @pytest.mark.parametrize(
        ("dose", "ml", "lasts_to"),
        [
            (bolus(0, 500), 500, None),
            (bolus(0, 500, status="running", over_min=10), 1000, None),
            (bolus(0, 1000, status="running", over_min=15), 1000, at(15)),
            (bolus(0, 500, status="running"), 500, None),
            (bolus(0, 500, status="finished", over_min=10, ended_at=at(12)), 500, None),
            (bolus(0, 500, status="stopped", over_min=10, ended_at=at(4)), 800, None),
            (bolus(0, 500, status="stopped", over_min=10, ended_at=at(4), infused=Amount(150, "mL")), 850, None),
        ],
        ids=["given", "running", "empties the bag", "no time", "finished", "stopped", "stopped and told"],
    )
    def test_a_bolus_draws_from_its_bag(self, dose: Any, ml: float, lasts_to: Any) -> None:
        one = held(bag(ml=1000, **self.LITER), doses=(dose,))["bolus"]
        assert (one.left, one.lasts_to) == (ml, lasts_to)

    def test_the_next_bolus_runs_from_what_is_left(self) -> None:
        known = left(bag(ml=1000, **self.LITER), doses=(bolus(0, 400), bolus(30, 400, name="second")))
        assert known == {"bolus": 200}

    def test_blood_in_bags_is_the_bag(self) -> None:
        unit = bag(ml=350, treatment="blood-product", strength=None)
        one = push(5, treatment="blood-product", amount=Amount(1, "bag"))
        assert left(unit, doses=(one,)) == {"bag": 0}


class TestOxygen:
    """(1200 - 200) x 0.28 are 280 L in the E cylinder: 70 min at 4 L/min."""

    @pytest.mark.parametrize(
        ("flows", "liters", "lasts_to"),
        [
            ((), 280, None),
            ((flow(0, 4),), 280, at(70)),
            ((flow(-20, 4),), 280, at(70)),
            ((flow(0, 4), flow(10, 10)), 240, at(34)),
            ((flow(0, 4), flow(10, 0)), 240, None),
            ((flow(0, 10), flow(40, 2)), 0, at(28)),
        ],
        ids=["no flow", "one", "read before it was opened", "turned up", "turned off", "empty before"],
    )
    def test_it_gives_what_was_read(self, flows: tuple[Any, ...], liters: float, lasts_to: Any) -> None:
        one = held(cylinder(), oxygen=flows)["cylinder"]
        assert (one.left, one.lasts_to) == (liters, lasts_to)

    def test_a_new_one_takes_over(self) -> None:
        known = held(cylinder(), cylinder(20, name="second"), oxygen=(flow(0, 4),))
        assert (known["cylinder"].left, known["cylinder"].lasts_to, known["second"].lasts_to) == (200, None, at(90))


def test_what_was_discarded_is_in_hand_no_more() -> None:
    assert left(syringe(discarded_at=at(9)), bag()) == {"bag": 250}


def test_a_drug_that_the_rules_lack_is_held_as_it_is() -> None:
    assert left(syringe(treatment=None), doses=(push(1),)) == {"syringe": 10}
