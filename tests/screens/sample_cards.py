"""The parts of cards of invented patients, in the shape of the API, for the drawings and pages."""

from __future__ import annotations

import copy
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import NAMESPACE_URL, uuid5

NOW = datetime(2030, 1, 5, 3, 14, 20, tzinfo=UTC)


def at(minutes: float) -> str:
    """The time so many minutes before NOW, as the API writes it."""
    return (NOW - timedelta(minutes=minutes)).isoformat().replace("+00:00", "Z")


def an_id(name: str) -> str:
    """A steady UUID for a name."""
    return str(uuid5(NAMESPACE_URL, name))


def point(
    minutes: float, sbp: float | None, dbp: float | None, hr: float | None = None, spo2: float | None = None
) -> dict[str, Any]:
    """One point of a trend, its MAP computed from the two pressures where both are there."""
    mean = round((sbp + 2 * dbp) / 3, 2) if sbp is not None and dbp is not None else None
    return {"t": at(minutes), "sbp": sbp, "dbp": dbp, "map": mean, "hr": hr, "spo2": spo2, "etco2": None}


def pressure(state: str, judged_by: str, goal: float, text: str) -> dict[str, Any]:
    """The judgment of a pressure as `derived.pressure` holds it."""
    return {"state": state, "judged_by": judged_by, "goal": goal, "text": text}


def derived(
    mean: float | None, shown: str | None, judgment: dict[str, Any], signs: list[str] | None = None
) -> dict[str, Any]:
    """The values computed from the newest pressure."""
    return {
        "map": mean,
        "map_computed": mean,
        "map_shown": shown,
        "map_from": "computed" if mean is not None else None,
        "pulse_pressure": None,
        "shock_index": None,
        "pressure": judgment,
        "signs": signs or [],
        "fresh_min": 5 if judgment["state"] in ("critical", "below_goal", "unknown") else 10,
    }


def latest(minutes: float, **values: object) -> dict[str, Any]:
    """The newest value of each measurement, all taken at the same time."""
    return {name: {"value": value, "taken_at": at(minutes)} for name, value in values.items()}


def person(age: float, sex: str, weight: float | None, basis: str = "stated", **more: object) -> dict[str, Any]:
    """A patient in years and kg."""
    return {
        "age": {"value": age, "unit": "years", "basis": "stated"},
        "sex": sex,
        "weight": {"value": weight, "unit": "kg", "basis": basis} if weight else None,
        "label": None,
        "allergies": [],
        "history": [],
        "fluid_restricted": False,
        "injuries": [],
        "onset_at": None,
        "bleeding_cause": None,
        "pregnancy_weeks": None,
        "care_limits": "full",
        **more,
    }


def dose(name: str, minutes: float, treatment: str, title: str, amount: str, **more: object) -> dict[str, Any]:
    """One thing given, as `doses` lists it."""
    return {
        "id": an_id(name),
        "treatment": treatment,
        "title": title,
        "amount": None,
        "shown": f"{title} {amount} {more.get('route', 'IV')}",
        "route": "IV",
        "given_at": at(minutes),
        "status": "given",
        "ended_at": None,
        "by": "J. Osk",
        "in_error": False,
        **more,
    }


def response(name: str, before: float | None, after: float | None, **more: object) -> dict[str, Any]:
    """MAP before and after one dose."""
    change = after - before if before is not None and after is not None else None
    return {"intervention": an_id(name), "map_before": before, "map_after": after, "change": change, **more}


def alert(name: str, kind: str, priority: str, text: str, minutes: float, **more: object) -> dict[str, Any]:
    """An open alert."""
    return {
        "id": an_id(name),
        "case": None,
        "kind": kind,
        "priority": priority,
        "text": text,
        "raised_at": at(minutes),
        "acknowledged": None,
        "escalated_at": None,
        "cleared_at": None,
        "cleared_because": "",
        **more,
    }


def finding(code: str, level: str, text: str) -> dict[str, Any]:
    """One finding of a check."""
    return {"code": code, "level": level, "text": text, "limit": None, "source": "demonstration rules"}


def order(name: str, state: str, title: str, value: float, unit: str, shown: str, **more: object) -> dict[str, Any]:
    """An order that is not finished."""
    return {
        "id": an_id(name),
        "case": None,
        "state": state,
        "treatment": title.replace(" ", "-"),
        "title": title,
        "amount": {"value": value, "unit": unit},
        "route": "IV",
        "shown": f"{title} {shown.partition(' = ')[0]} IV",
        "reason": None,
        "action": "give",
        "repeat": None,
        "check": {
            "verdict": "needs_order",
            "findings": [],
            "give": {"dose": None, "volume": None, "rate": None, "shown": shown},
        },
        "requested_by": "J. Osk",
        "requested_at": at(0.7),
        "decided_by": None,
        "decided_at": None,
        "read_back_at": None,
        "given": 0,
        "question": None,
        "waiting_since": at(0.7),
        "expires_at": None,
        "seen_at": None,
        "mismatch": False,
        **more,
    }


def reassessment(name: str, state: str, due_in: float, of: str, because: str) -> dict[str, Any]:
    """A reading that something given asks for, due in so many minutes."""
    return {
        "id": an_id(name),
        "intervention": an_id(of),
        "because": because,
        "counts_from": at(-due_in + 2),
        "needs": ["pressure", "lungs"],
        "due_at": at(-due_in),
        "overdue_at": at(-due_in - 1),
        "done_at": None,
        "state": state,
    }


def card(call_sign: str, patient: dict[str, Any], judged: dict[str, Any], **more: object) -> dict[str, Any]:
    """A whole card; whatever is not said is empty."""
    made: dict[str, Any] = {
        "case": an_id(f"case {call_sign}"),
        "seq": 7,
        "unit": {"id": an_id(call_sign), "call_sign": call_sign},
        "state": "open",
        "opened_at": at(52),
        "patient": patient,
        "complaint": "",
        "impression": "undifferentiated",
        "incident": "run 4711",
        "destination": None,
        "eta": at(-11),
        "physician": None,
        "goal": {"measure": "map", "floor": 65, "ceiling": None, "because": "adult", "text": "MAP 65"},
        "vitals": {"derived": judged},
        "trend": [],
        "map_slope": None,
        "crossing_at": None,
        "fluids": {"total_ml": 0, "ml_per_kg": None, "boluses": 0, "boluses_left": 3},
        "given": [],
        "running": [],
        "responses": [],
        "reassessments": [],
        "orders": [],
        "access": [],
        "alerts": [],
        "last_contact_at": at(0.3),
        "doses": [],
        "rule_set": {"name": "demonstration", "version": "0.3", "approved": False},
    }
    made.update(more)
    return copy.deepcopy(made)
