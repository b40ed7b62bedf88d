"""The invented board: six patients, each in another state, and the further states that a card can be in."""

from __future__ import annotations

from typing import Any

from tests.screens.sample_cards import (
    alert,
    an_id,
    at,
    card,
    derived,
    dose,
    finding,
    latest,
    order,
    person,
    point,
    pressure,
    reassessment,
    response,
)

MERRIN = {"id": an_id("Merrin"), "name": "Dr. Merrin"}
QUILLAN = {"id": an_id("Quillan"), "name": "Dr. Quillan"}
NO_PRESSURE = pressure("unknown", None, 65, "No pressure yet")  # type: ignore[arg-type]


def trend(*sets: tuple[float, float | None, float | None]) -> list[dict[str, Any]]:
    """Points from (minutes ago, systolic, diastolic)."""
    return [
        point(minutes, sbp, dbp, hr=118 + index, spo2=95 - index % 3) for index, (minutes, sbp, dbp) in enumerate(sets)
    ]


def kestrel() -> dict[str, Any]:
    """Critical, an alert raised, a request waiting."""
    judged = pressure("critical", "map", 65, "MAP 54, goal 65")
    signs = ["cap refill 4 s", "responds to voice", "lactate 4.2 mmol/L", "shock index 1.7"]
    return card(
        "Kestrel 2",
        person(58, "male", 80, allergies=["sulfite"]),
        derived(54, "54", judged, signs),
        complaint="fever, confused since yesterday",
        impression="septic",
        destination="Marrowby General",
        physician=MERRIN,
        vitals={
            **latest(1.1, sbp=74, dbp=44, bp_method="cuff", hr=128, spo2=92, etco2=24, cap_refill_s=4, avpu="V"),
            **latest(6.2, rr=28, lactate_mmol_l=4.2),
            "derived": derived(54, "54", judged, signs),
        },
        trend=trend(
            (38, 84, 50),
            (33, 82, 48),
            (29, 86, 50),
            (24, 88, 52),
            (20, 90, 52),
            (16, 86, 48),
            (12, 80, 46),
            (9, 92, 54),
            (6, 86, 50),
            (4, 80, 46),
            (1.1, 74, 44),
        ),
        map_slope=-0.9,
        crossing_at=at(3),
        fluids={"total_ml": 2000, "ml_per_kg": 25, "boluses": 2, "boluses_left": 1},
        doses=[
            dose("k1", 36, "crystalloid-bolus", "crystalloid bolus", "1,000 mL", ended_at=at(22), status="finished"),
            dose("k2", 20, "crystalloid-bolus", "crystalloid bolus", "1,000 mL", ended_at=at(11), status="finished"),
            dose("k3", 10, "epinephrine-push-dose", "EPINEPHrine push dose", "10 mcg"),
        ],
        responses=[
            response("k1", 61, 64, text="MAP before and after: little change"),
            response("k2", 64, 62, text="MAP before and after: little change"),
            response("k3", 57, 67),
        ],
        alerts=[alert("ka", "low_pressure", "high", "MAP 54, critical", 0.63)],
        orders=[
            order(
                "ko",
                "requested",
                "norepinephrine infusion",
                8,
                "mcg/min",
                "8 mcg/min = 30 mL/h of 16 mcg per mL",
                reason="2,000 mL in. Push dose wore off in 5 min.",
                check={
                    "verdict": "needs_order",
                    "findings": [
                        finding("starts_by_order", "needs_order", "Infusions start by order."),
                        finding("weight_estimated", "caution", "The weight is stated, not measured."),
                    ],
                    "give": {
                        "dose": {"value": 8, "unit": "mcg/min"},
                        "volume": None,
                        "rate": {"value": 30, "unit": "mL/h"},
                        "shown": "8 mcg/min = 30 mL/h of 16 mcg per mL",
                    },
                },
            )
        ],
    )


def plover() -> dict[str, Any]:
    """Stale and out of contact, not accepted, a weight by length, a palpated reading in the trend."""
    judged = pressure("at_goal", "map", 65, "MAP 71, goal 65")
    return card(
        "Plover 8",
        person(46, "male", 95, "length"),
        derived(71.3, "71", judged, ["shock index 1.1"]),
        complaint="found on the floor",
        destination="Ostrin Hospital",
        eta=at(-26),
        vitals={
            **latest(9, sbp=98, dbp=58, bp_method="cuff", hr=112, spo2=95, etco2=33),
            **latest(14, rr=22),
            "derived": derived(71.3, "71", judged, ["shock index 1.1"]),
        },
        trend=trend(
            (37, 96, 52), (32, 100, 54), (27, 94, 50), (22, 92, None), (18, 98, 56), (14, 102, 58), (9, 98, 58)
        ),
        map_slope=0.1,
        doses=[dose("p1", 30, "crystalloid-bolus", "crystalloid bolus", "500 mL", ended_at=at(19), status="finished")],
        responses=[response("p1", 66, 69)],
        reassessments=[reassessment("pr", "unknown", -4, "p1", "after bolus 1")],
        alerts=[alert("pa", "no_contact", "medium", "No data from unit for 7 min", 1.9)],
        last_contact_at=at(7),
    )


def finch() -> dict[str, Any]:
    """Below goal by the systolic, alert acknowledged, a further request waiting."""
    judged = pressure("below_goal", "sbp", 80, "Systolic 76, goal 80")
    signs = ["cap refill 3 s", "shock index 1.8"]
    return card(
        "Finch 6",
        person(34, "female", 61, "measured"),
        derived(52, "52", judged, signs),
        complaint="fall, pelvis; trauma",
        impression="hemorrhagic",
        destination="Marrowby General",
        eta=at(-19),
        physician=MERRIN,
        goal={"measure": "sbp", "floor": 80, "ceiling": 90, "because": "bleeding", "text": "systolic 80–90"},
        vitals={
            **latest(2, sbp=76, dbp=40, bp_method="cuff", hr=134, spo2=97, etco2=29, cap_refill_s=3),
            **latest(5, rr=26, temp_c=35.1),
            "derived": derived(52, "52", judged, signs),
        },
        trend=trend(
            (35, 84, 54), (30, 82, 50), (25, 78, 46), (20, 74, 42), (15, 78, 44), (10, 80, 46), (6, 78, 42), (2, 76, 40)
        ),
        map_slope=0.0,
        doses=[
            dose("f1", 22, "tranexamic-acid", "tranexamic acid", "1 g", ended_at=at(12), status="finished"),
            dose("f2", 18, "blood-product", "red cells", "1 bag", ended_at=at(8), status="finished"),
        ],
        responses=[response("f1", 57, 55), response("f2", 53, 58, shared=True, text="")],
        alerts=[
            alert(
                "fa",
                "low_pressure",
                "medium",
                "Systolic 76, below goal 80",
                6,
                acknowledged={"by": "Dr. Merrin", "at": at(5)},
            )
        ],
        orders=[
            order(
                "fo",
                "requested",
                "red cells",
                1,
                "bag",
                "1 bag",
                treatment="blood-product",
                waiting_since=at(0.3),
                check={
                    "verdict": "needs_order",
                    "findings": [finding("count_reached", "needs_order", "1 bag given, standing-order limit 1 bag.")],
                    "give": None,
                },
            )
        ],
    )


def wren() -> dict[str, Any]:
    """A child judged by the systolic, a bolus running, a reassessment counting down."""
    judged = pressure("below_goal", "sbp", 80, "Systolic 76, goal 80")
    signs = ["cap refill 4 s", "heart rate above the band for 5 years"]
    return card(
        "Wren 5",
        person(5, "female", 18, "measured"),
        derived(53.33, "53", judged, signs),
        complaint="vomiting, drowsy",
        impression="hypovolemic",
        destination="Ostrin Children's",
        eta=at(-8),
        physician=QUILLAN,
        goal={"measure": "sbp", "floor": 80, "ceiling": None, "because": "5 years", "text": "systolic 80"},
        vitals={
            **latest(0.6, sbp=76, dbp=42, bp_method="cuff", hr=158, spo2=96, cap_refill_s=4),
            **latest(3, rr=34, etco2=31),
            "derived": derived(53.33, "53", judged, signs),
        },
        trend=trend((24, 84, 46), (18, 78, 42), (12, 72, 40), (7, 72, 42), (4, 74, 42), (0.6, 76, 42)),
        map_slope=0.4,
        fluids={"total_ml": 360, "ml_per_kg": 20, "boluses": 2, "boluses_left": 1},
        doses=[
            dose("w1", 13, "crystalloid-bolus", "crystalloid bolus", "180 mL", ended_at=at(6), status="finished"),
            dose("w2", 4, "crystalloid-bolus", "crystalloid bolus", "180 mL", status="running"),
        ],
        responses=[response("w1", 51, 52)],
        reassessments=[reassessment("wr", "waiting", 1.83, "w2", "after bolus 2")],
    )


def badger() -> dict[str, Any]:
    """A decimal that rounding would hide, an order approved and not yet read back."""
    judged = pressure("below_goal", "map", 65, "MAP 64.7, goal 65")
    return card(
        "Badger 1",
        person(67, "male", 90, fluid_restricted=True, history=["heart_failure"]),
        derived(64.67, "64.7", judged),
        complaint="chest pressure",
        impression="cardiogenic",
        destination="Marrowby General",
        eta=at(-33),
        physician=MERRIN,
        vitals={
            **latest(2, sbp=98, dbp=48, bp_method="cuff", hr=96, spo2=93, etco2=36, lungs="crackles"),
            **latest(8, rr=24),
            "derived": derived(64.67, "64.7", judged),
        },
        trend=trend((38, 102, 48), (32, 98, 46), (26, 96, 42), (20, 92, 42), (14, 96, 44), (8, 96, 46), (2, 98, 48)),
        map_slope=0.5,
        doses=[dose("b1", 33, "crystalloid-bolus", "crystalloid bolus", "250 mL", ended_at=at(24), status="stopped")],
        responses=[response("b1", 65, 60, text="")],
        orders=[
            order(
                "bo",
                "approved",
                "norepinephrine infusion",
                6,
                "mcg/min",
                "6 mcg/min = 22.5 mL/h of 16 mcg per mL",
                decided_by="Dr. Merrin",
                decided_at=at(0.52),
                waiting_since=at(0.52),
                expires_at=at(-9.5),
            )
        ],
    )


def marten() -> dict[str, Any]:
    """At goal and in the usual range, nothing waiting."""
    judged = pressure("normal_range", "map", 65, "MAP 83, goal 65")
    return card(
        "Marten 4",
        person(29, "female", 70),
        derived(82.67, "83", judged),
        complaint="wasp sting",
        impression="anaphylactic",
        destination="Ostrin Hospital",
        eta=at(-5),
        physician=QUILLAN,
        vitals={
            **latest(1, sbp=112, dbp=68, bp_method="cuff", hr=98, spo2=98),
            **latest(4, rr=18, etco2=37),
            "derived": derived(82.67, "83", judged),
        },
        trend=trend((22, 84, 44), (18, 90, 46), (14, 96, 54), (9, 104, 62), (5, 110, 64), (1, 112, 68)),
        map_slope=1.1,
        doses=[
            dose("m1", 20, "epinephrine-im", "EPINEPHrine IM", "0.5 mg", route="IM"),
            dose("m2", 17, "crystalloid-bolus", "crystalloid bolus", "500 mL", ended_at=at(6), status="finished"),
        ],
        responses=[response("m1", 57, 67), response("m2", 67, 78, shared=True, text="")],
        reassessments=[reassessment("mr", "waiting", 4.2, "m2", "after bolus 2")],
    )


def board() -> list[dict[str, Any]]:
    """The six cards in no particular order."""
    return [marten(), kestrel(), badger(), wren(), plover(), finch()]
