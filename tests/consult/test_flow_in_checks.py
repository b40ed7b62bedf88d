"""A check that is asked for says how the dose is made to run; what is stored of a check does not."""

from __future__ import annotations

from typing import Any

from consult.actions import checks
from consult.rows.rows import plain
from tests.conftest import NOON, Cast, Consult, child, open_consult


def asked(consult: Consult, treatment: str, value: float, unit: str, **more: Any) -> dict[str, Any]:
    data = {"treatment": treatment, "amount": {"value": value, "unit": unit}, "route": "IV", "at": NOON, **more}
    return plain(checks.check_proposal(consult.cast.osk, consult.uid, data, NOON))


def test_a_bolus(consult: Consult) -> None:
    """CAN-019 and the textbook: 500 mL in 10 min, 50 mL/min, goes through a 20 G."""
    flow = asked(consult, "crystalloid-bolus", 500, "mL", over_min=10)["flow"]

    assert flow["needed"] == {"value": 50, "unit": "mL/min"}
    assert [each["gauge"] for each in flow["cannulas"] if each["by_gravity"]] == [14, 16, 18, 20]
    assert flow["strokes"] == []


def test_a_childs_bolus(cast: Cast) -> None:
    flow = asked(open_consult(cast, child(5, 18)), "crystalloid-bolus", 360, "mL")["flow"]

    assert [each["count"] for each in flow["strokes"]] == [36, 18, 8, 6]


def test_a_push_has_none_and_a_stored_check_is_without(consult: Consult) -> None:
    consult.vitals(sbp=80, dbp=40)

    assert asked(consult, "epinephrine-push-dose", 10, "mcg")["flow"] is None
    assert "flow" not in plain(consult.give("crystalloid-bolus", 500, "mL", over_min=10).resource.check)
