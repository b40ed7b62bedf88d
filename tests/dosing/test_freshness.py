"""When a pressure is no state any more but the last one: the minutes of the rule set, fewer where it changes fast."""

from __future__ import annotations

import pytest

from dosing.ground.facts import Amount, Dose
from dosing.patient.freshness import fresh_min
from tests.dosing.bedside import RULES, adult, ago, facts

PUSH, FLUID, INFUSION = "epinephrine-push-dose", "crystalloid-bolus", "norepinephrine-infusion"


def dose(treatment, minutes, **more):
    """A dose so many minutes before the pressure was taken; fewer than none is after it."""
    return Dose(id="d", treatment=treatment, amount=Amount(1, "mg"), given_at=ago(minutes), **more)


# Rule set: 5 minutes for a patient on a pressor, 10 else ("stale_pressor_min", "stale_min", marked "our choice").
@pytest.mark.parametrize(
    ("state", "doses", "minutes"),
    [
        ("at_goal", [], 10),
        ("normal_range", [], 10),
        ("above_range", [], 10),
        ("below_goal", [], 5),
        ("critical", [], 5),
        ("unknown", [], 5),
        ("at_goal", [dose(PUSH, -1)], 5),
        ("at_goal", [dose(PUSH, 9)], 5),
        ("at_goal", [dose(PUSH, 10)], 5),
        ("at_goal", [dose(PUSH, 10.01)], 10),
        ("at_goal", [dose(PUSH, 20), dose(FLUID, 1)], 10),
        ("at_goal", [dose(INFUSION, 60, status="held", changed_at=ago(3))], 5),
        ("at_goal", [dose(INFUSION, 60, status="held", changed_at=ago(20))], 10),
        ("at_goal", [dose(FLUID, 1)], 10),
        ("at_goal", [dose("other", 1, name="angiotensin")], 10),
        ("at_goal", [dose(INFUSION, 60, status="running")], 5),
        ("at_goal", [dose(INFUSION, 60, status="stopped", ended_at=ago(20))], 10),
        ("at_goal", [dose(INFUSION, 60, status="stopped", ended_at=ago(3))], 5),
    ],
)
def test_it_stays_fresh_for_so_many_minutes(state, doses, minutes):
    assert fresh_min(ago(0), state, facts(adult(80), doses=doses), RULES) == minutes
