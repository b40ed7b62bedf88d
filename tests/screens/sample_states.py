"""Further cards of invented patients, each in a state that the small board does not show."""

from __future__ import annotations

from typing import Any

from tests.screens.sample_board import QUILLAN, trend
from tests.screens.sample_cards import (
    alert,
    at,
    card,
    derived,
    dose,
    finding,
    latest,
    order,
    person,
    pressure,
    reassessment,
)


def measured(judged: dict[str, Any], minutes: float = 1.0, **values: object) -> dict[str, Any]:
    """The vitals of a card: these values, and what was derived from the pressure among them."""
    return {**latest(minutes, **values), "derived": {**judged, "taken_at": at(minutes)}}


def lapwing() -> dict[str, Any]:
    """Palpated: a systolic without a diastolic, so no MAP."""
    judged = derived(None, None, pressure("unknown", "map", 65, "systolic 92 palpated, MAP unknown"))
    vitals = measured(judged, sbp=92, dbp=None, bp_method="palpated", hr=118)
    return card("Lapwing 4", person(80, "female", 55), judged, vitals=vitals, trend=trend((20, 98, 52), (1, 92, None)))


def elk() -> dict[str, Any]:
    """No pressure could be obtained: critical, and still no number."""
    judged = derived(None, None, pressure("critical", "map", 65, "no pressure obtainable"))
    vitals = measured(judged, bp_method="unobtainable", pulses="carotid", hr=136)
    return card(
        "Elk 3",
        person(55, "male", 90),
        judged,
        vitals=vitals,
        trend=[*trend((20, 88, 44)), {**trend((1, None, None))[0], "bp_method": "unobtainable"}],
        alerts=[alert("ea", "low_pressure", "high", "No pressure obtainable", 0.2)],
    )


def vole() -> dict[str, Any]:
    """Opened just now: nothing measured yet, adult of unknown age and weight."""
    nothing = derived(None, None, pressure("unknown", "map", 65, "no pressure yet"))
    unknown = {**person(0, "unknown", None), "age": None}
    return card("Vole 9", unknown, nothing, vitals={"derived": {**nothing, "taken_at": None}}, impression="")


def stoat(minutes: float = 6.0) -> dict[str, Any]:
    """Below goal, the pressure so many minutes old, the unit in contact."""
    judged = derived(61.0, "61", pressure("below_goal", "map", 65, "MAP 61, goal 65"))
    vitals = measured(judged, minutes, sbp=87, dbp=48, bp_method="cuff", hr=114)
    return card("Stoat 2", person(51, "male", 88), judged, vitals=vitals, trend=trend((30, 96, 50), (minutes, 87, 48)))


def snipe() -> dict[str, Any]:
    """A reassessment overdue after a push dose."""
    judged = derived(63.0, "63", pressure("below_goal", "map", 65, "MAP 63, goal 65"))
    return card(
        "Snipe 6",
        person(66, "male", 77),
        judged,
        vitals=measured(judged, 4, sbp=93, dbp=48, bp_method="cuff"),
        doses=[dose("s1", 3.7, "epinephrine-push-dose", "EPINEPHrine push dose", "10 mcg")],
        reassessments=[reassessment("sr", "overdue", -0.7, "s1", "EPINEPHrine push dose")],
        alerts=[alert("sa", "reassessment_overdue", "high", "No reassessment after EPINEPHrine push dose", 0.7)],
    )


def pine() -> dict[str, Any]:
    """Asked back: the question stands in the panel and the waiting clock is stopped."""
    judged = derived(60.0, "60", pressure("below_goal", "map", 65, "MAP 60, goal 65"))
    asked = order(
        "po",
        "requested",
        "crystalloid bolus",
        500,
        "mL",
        "500 mL",
        waiting_since=None,
        paused_until=at(-1.5),
        question="Lungs since the first bolus?",
        steps=[
            {"step": "requested", "at": at(0.7), "by": "J. Osk"},
            {"step": "asked back", "at": at(0.5), "by": "Dr. Quillan", "text": "Lungs since the first bolus?"},
        ],
        check={
            "verdict": "needs_order",
            "findings": [finding("crackles", "needs_order", "crackles at 03:01")],
            "give": None,
        },
    )
    vitals = measured(judged, sbp=88, dbp=46, bp_method="cuff")
    return card("Pine 3", person(48, "female", 69), judged, vitals=vitals, orders=[asked], physician=QUILLAN)


def over_limit() -> dict[str, Any]:
    """A request beyond a hard limit: there is nothing to approve."""
    asked = order("oo", "requested", "EPINEPHrine push dose", 100, "mcg", "100 mcg")
    asked["check"]["findings"] = [finding("above_hard_limit", "over_hard_limit", "100 mcg, hard limit 50 mcg")]
    return {**stoat(1), "orders": [asked]}


def two_patients() -> dict[str, Any]:
    """The second patient of one unit, with text that would be code if it were not escaped."""
    made = stoat(1)
    made["patient"]["label"] = "B"
    return {**made, "complaint": "<script>alert(1)</script>", "destination": 'St "Ann" <b>', "orders": pine()["orders"]}


def handed_over() -> dict[str, Any]:
    """No longer on the board."""
    return {**stoat(12), "state": "handed_over"}


def states() -> list[dict[str, Any]]:
    """All of them."""
    return [lapwing(), elk(), vole(), stoat(), snipe(), pine(), over_limit(), two_patients(), handed_over()]
