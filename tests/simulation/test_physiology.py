"""What a simulated body does by itself and under treatment."""

from __future__ import annotations

import pytest

from consult.simulation import treat
from consult.simulation.physiology import Body, Nature
from dosing.ground.facts import Amount
from tests.simulation.bodies import curve, dry_adult, failing_adult, settled, warm_adult

PUSH = "epinephrine-push-dose"


def after(treatment: str, amount: Amount, body: Body, minutes: float = 12) -> list[float]:
    """The MAP curve after one treatment."""
    treat.give(body, treatment, amount)
    return curve(body, minutes)


class TestAlone:
    def test_a_settled_body_stays_where_it_was_set(self) -> None:
        points = curve(warm_adult(58), 10)

        assert max(abs(point - 58) for point in points) < 0.5

    def test_bleeding_lowers_the_pressure_and_quickens_the_heart(self) -> None:
        body = dry_adult()
        body.bleeding_ml_min = 60
        before = body.hr

        points = curve(body, 15)

        assert points[-1] < points[0] - 8
        assert body.hr > before

    def test_two_bodies_with_the_same_history_are_the_same(self) -> None:
        one, other = (after(PUSH, Amount(15, "mcg"), warm_adult()) for _ in range(2))

        assert one == other

    def test_the_length_of_a_tick_does_not_matter(self) -> None:
        fine, coarse = warm_adult(), warm_adult()
        for body in (fine, coarse):
            treat.give(body, PUSH, Amount(10, "mcg"))
        for _ in range(400):
            fine.advance(0.25)
        coarse.advance(100)

        assert fine.map == pytest.approx(coarse.map)


class TestPushDose:
    def test_the_usual_dose_raises_the_pressure_as_a_transport_study_found(self) -> None:
        """EVD-007 (second-hand): median MAP rise 13 mmHg, HR +2, with 10-20 mcg; the middle of that range is 15 mcg."""
        points = after(PUSH, Amount(15, "mcg"), warm_adult(58))

        assert 8 <= max(points) - 58 <= 20

    def test_a_larger_dose_raises_it_more(self) -> None:
        peaks = [max(after(PUSH, Amount(dose, "mcg"), warm_adult())) for dose in (2, 5, 10, 20, 50, 100)]

        assert peaks == sorted(peaks)
        assert peaks[-1] > peaks[0] + 15

    def test_it_acts_within_a_minute_and_is_gone_after_ten(self) -> None:
        """PDP-004 (read in source): onset under 1 min, duration 5-10 min (EB Medicine; EMCrit)."""
        points = after(PUSH, Amount(15, "mcg"), warm_adult(58))
        rise = [point - 58 for point in points]

        assert rise[5] > 0.5 * max(rise), "at 1 min"
        assert rise[5 * 6] > 0.2 * max(rise), "at 5 min"
        assert rise[10 * 6] < 0.25 * max(rise), "at 10 min"

    def test_a_child_needs_less_for_the_same_effect(self) -> None:
        child = settled(Body(nature=Nature(weight_kg=18, map_normal=74), blood_ml=18 * 70), 48, 150)

        rise_child = max(after(PUSH, Amount(5, "mcg"), child)) - 48
        rise_adult = max(after(PUSH, Amount(5, "mcg"), warm_adult(58))) - 58

        assert rise_child > 1.5 * rise_adult


class TestChangedOrders:
    """The acceptance of the simulation: a changed dose or order changes the MAP curve."""

    @pytest.mark.parametrize(
        ("one", "other"),
        [
            pytest.param((PUSH, Amount(10, "mcg")), (PUSH, Amount(20, "mcg")), id="dose doubled"),
            pytest.param(
                (PUSH, Amount(10, "mcg")), ("crystalloid-bolus", Amount(250, "mL")), id="fluid instead of a push"
            ),
        ],
    )
    def test_another_dose_gives_another_curve(self, one: tuple[str, Amount], other: tuple[str, Amount]) -> None:
        first, second = after(*one, body=warm_adult()), after(*other, body=warm_adult())

        assert max(abs(a - b) for a, b in zip(first, second, strict=True)) > 3

    def test_a_higher_rate_holds_a_higher_pressure_and_stopping_lets_it_go(self) -> None:
        levels = []
        for rate in (0.05, 0.1, 0.3):
            body = warm_adult()
            treat.run(body, "norepinephrine-infusion", Amount(rate, "mcg/kg/min"))
            levels.append(curve(body, 15)[-1])
        treat.stop(body, "norepinephrine-infusion")

        assert levels == sorted(levels)
        assert levels[1] - 58 > 6
        assert curve(body, 20)[-1] < levels[0]


class TestFluid:
    def test_it_helps_who_has_lost_volume(self) -> None:
        body = dry_adult()

        points = after("crystalloid-bolus", Amount(1000, "mL"), body, 20)

        assert max(points) > 57 + 8
        assert not body.crackles

    def test_more_of_it_helps_more(self) -> None:
        peaks = [max(after("crystalloid-bolus", Amount(ml, "mL"), dry_adult(), 20)) for ml in (100, 250, 500, 1000)]

        assert peaks == sorted(peaks)

    def test_most_of_it_leaves_the_vessels_again(self) -> None:
        points = after("crystalloid-bolus", Amount(1000, "mL"), dry_adult(), 80)

        assert 57 < points[-1] < max(points) - 2

    def test_a_failing_heart_gets_crackles_and_little_pressure(self) -> None:
        body, alone = failing_adult(), failing_adult()

        points = after("crystalloid-bolus", Amount(500, "mL"), body, 15)
        curve(alone, 15)

        assert body.crackles
        assert body.lung_water_ml > alone.lung_water_ml + 10
        assert max(points) < 57 + 4

    def test_blood_stays_where_fluid_leaves(self) -> None:
        blood = after("blood-product", Amount(2, "bag"), dry_adult(), 60)[-1]
        fluid = after("crystalloid-bolus", Amount(600, "mL"), dry_adult(), 60)[-1]

        assert blood > fluid + 2


class TestAnaphylaxis:
    @staticmethod
    def stung() -> Body:
        """61 kg in a nearly full reaction."""
        nature = Nature(weight_kg=61)
        return settled(Body(nature=nature, blood_ml=0.85 * nature.blood_ml, reaction=0.9), 46, 132)

    def test_epinephrine_into_the_muscle_ends_the_reaction(self) -> None:
        body, untreated = self.stung(), self.stung()

        points = after("epinephrine-im", Amount(0.5, "mg"), body, 15)
        curve(untreated, 15)

        assert points[-1] > 46 + 10
        assert body.reaction < 0.75 < untreated.reaction


@pytest.mark.parametrize("make", [warm_adult, dry_adult, failing_adult])
def test_a_body_keeps_within_bounds_for_hours_whatever_is_done_to_it(make) -> None:
    body = make()
    body.bleeding_ml_min = 40
    for hour in range(6):
        treat.give(body, PUSH, Amount(1, "mg"))
        treat.give(body, "crystalloid-bolus", Amount(4, "L"))
        treat.run(body, "norepinephrine-infusion", Amount(1 + hour, "mcg/kg/min"))
        for _ in range(360):
            body.advance(10)

            assert 15 <= body.map <= 190
            assert 20 <= body.hr <= 240
            assert 0.45 <= body.filling <= 1.6
            assert 0 < body.lactate_mmol_l <= 18
