"""A dose is drawn from the syringe in hand, at the strength that was recorded of it, whatever the recipe says."""

import pytest

from dosing.ground.facts import Amount
from tests.copying import replace
from tests.dosing.bedside import TEN, ago, check, facts, given
from tests.dosing.in_hand import PUSH, syringe

KETAMINE = {"treatment": "ketamine"}


def drawn(treatment, value, unit, *containers, **more):
    """The volume in mL, and what was said of the strength."""
    known = replace(facts(), containers=containers)
    found = check(treatment, value, unit, known, **more)
    said = [
        one.text for one in found.findings if one.code in ("unlisted_strength", "wrong_stock", "strength_not_stated")
    ]
    return found.give.volume and found.give.volume.value, said


# 10 mcg of: 10 mcg/mL are 1 mL; 100 mcg/mL, the slip of the wrong vial, 0.1 mL; 9.09, the full syringe, 1.1 mL.
@pytest.mark.parametrize(
    ("mcg_per_ml", "volume", "said"),
    [
        (10, 1, []),
        (9.95, 1, []),
        (100, 0.1, ["the syringe in hand holds 100 mcg per mL, not 10 mcg per mL; 1 mL would be 100 mcg, not 10 mcg"]),
        (
            9.09,
            1.1001,
            ["the syringe in hand holds 9.09 mcg per mL, not 10 mcg per mL; 1 mL would be 9.09 mcg, not 10 mcg"],
        ),
        (
            1000,
            None,
            ["the syringe in hand holds 1,000 mcg per mL, not 10 mcg per mL; 1 mL would be 1,000 mcg, not 10 mcg"],
        ),
    ],
)
def test_a_push_is_drawn_at_the_strength_in_hand(mcg_per_ml, volume, said):
    found = drawn(PUSH, 10, "mcg", syringe(-5, strength=Amount(mcg_per_ml, "mcg/mL")))

    assert found == (volume and pytest.approx(volume, abs=1e-4), said)


HUNDRED = Amount(100, "mcg/mL")


@pytest.mark.parametrize(
    ("containers", "more", "volume"),
    [
        pytest.param([syringe(-9, strength=HUNDRED), syringe(-5)], {}, 1, id="the newest"),
        pytest.param([syringe(-5), syringe(-9, strength=HUNDRED)], {}, 1, id="the newest, told in another order"),
        pytest.param([syringe(-9, strength=HUNDRED, name="a"), syringe(-5)], {"container": "a"}, 0.1, id="as named"),
        pytest.param([syringe(-5, strength=HUNDRED)], {"container": "elsewhere"}, 0.1, id="named, but not there"),
        pytest.param([syringe(-5, strength=HUNDRED)], {"stock": Amount(10, "mcg/mL")}, 1, id="another was stated"),
        pytest.param([syringe(-5, strength=HUNDRED, discarded_at=ago(1))], {}, 1, id="discarded"),
        pytest.param([syringe(-5, strength=HUNDRED, discarded_at=TEN)], {}, 1, id="discarded now"),
        pytest.param([syringe(0, strength=HUNDRED)], {}, 0.1, id="mixed now"),
        pytest.param([syringe(1, strength=HUNDRED)], {}, 1, id="not mixed yet"),
        pytest.param([syringe(-5, strength=HUNDRED, treatment="phenylephrine-push-dose")], {}, 1, id="another drug"),
    ],
)
def test_which_syringe_it_is(containers, more, volume):
    assert drawn(PUSH, 10, "mcg", *containers, **more)[0] == pytest.approx(volume)


@pytest.mark.parametrize(
    ("mg_per_ml", "volume", "said"),
    [
        (50, 0.16, []),
        (5, 1.6, ["the syringe in hand holds 5 mg per mL, not 10 mg per mL; 0.8 mL would be 4 mg, not 8 mg"]),
    ],
)
def test_what_comes_in_several_strengths_needs_none_stated_once_one_is_in_hand(mg_per_ml, volume, said):
    held = syringe(-5, strength=Amount(mg_per_ml, "mg/mL"), **KETAMINE)

    assert drawn("ketamine", 8, "mg", held) == (pytest.approx(volume), said)


DRIP = "norepinephrine-infusion"


@pytest.mark.parametrize(
    ("hung", "stated", "new_rate", "told"),
    [
        (16, 64, True, "18.8 mL/h would be 0.0625 mcg/kg/min, not 0.25 mcg/kg/min"),
        (16, 16, True, ""),
        (16, 64, False, ""),  # a bag that is hung anew says its own strength
        (None, 64, True, ""),
    ],
)
def test_a_rate_of_another_strength_than_the_bag_that_runs_is_told(hung, stated, new_rate, told):
    """0.25 mcg/kg/min at 80 kg is 18.75 mL/h of 64 mcg/mL, and a quarter of it of 16 (by hand)."""
    strength = None if hung is None else Amount(hung, "mcg/mL")
    running = given(DRIP, 30, 0.1, "mcg/kg/min", status="running", concentration=strength, route="IV")
    how = {"concentration": Amount(stated, "mcg/mL"), "new_rate": new_rate}
    found = check(DRIP, 0.25, "mcg/kg/min", facts(doses=(running,)), **how).findings

    words = [each.text for each in found if "the bag that runs is 16" in each.text]
    assert bool(words) == bool(told)
    assert told in (words or [""])[0]
