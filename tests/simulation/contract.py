"""The contract's request bodies as JSON Schemas, written from its text, and nothing that our own API says of itself."""

from __future__ import annotations

from typing import Any

from jsonschema import Draft202012Validator

ID = {"type": "string", "pattern": "^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"}
TIME = {"type": "string", "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)$"}
TEXT = {"type": "string", "minLength": 1, "maxLength": 2000}
RATE = {"type": "string", "pattern": "^(mcg|mg|g|mL|L|units|mmol|mEq|bag)(/kg)?(/min|/h)?$"}
STRENGTH_UNIT = {"type": "string", "pattern": "^(mcg|mg|g|units|mmol|mEq)/mL$"}


def number(least: float, most: float) -> dict[str, Any]:
    """A number within what can be measured."""
    return {"type": "number", "minimum": least, "maximum": most}


def one_of(words: str) -> dict[str, Any]:
    """One of the contract's words."""
    return {"enum": words.split()}


def body(required: str, **properties: Any) -> dict[str, Any]:
    """An object that has what it needs and nothing that is not named."""
    return {
        "type": "object",
        "required": required.split(),
        "properties": {"id": ID, **properties},
        "additionalProperties": False,
    }


def quantity(unit: dict[str, Any]) -> dict[str, Any]:
    """A value above zero with its unit."""
    return {
        "type": "object",
        "required": ["value", "unit"],
        "properties": {"value": {"type": "number", "exclusiveMinimum": 0}, "unit": unit},
        "additionalProperties": False,
    }


UNIT = one_of("mcg mg g mL L units mmol mEq bag")
AMOUNT = quantity({"anyOf": [UNIT, RATE]})
PROPOSAL = {
    "treatment": TEXT,
    "amount": AMOUNT,
    "route": one_of("IV IO IM IN SC PO"),
    "stock": quantity(STRENGTH_UNIT),
    "concentration": quantity(STRENGTH_UNIT),
    "over_min": number(0.01, 1440),
    "gauge": number(10, 30),
    "product": TEXT,
}
AGE = body("value unit", value=number(0, 130), unit=one_of("years months days"), basis=one_of("known stated estimated"))
WEIGHT = body("value unit", value=number(0.3, 400), unit={"const": "kg"}, basis=one_of("measured stated length age"))
PATIENT = body(
    "age weight",
    age=AGE,
    weight=WEIGHT,
    sex=one_of("female male other unknown"),
    label=TEXT,
    allergies={"type": "array", "items": TEXT},
    history={
        "type": "array",
        "items": one_of(
            "anticoagulant beta_blocker steroid_dependent heart_failure dialysis maoi pacemaker transplant"
        ),
    },
    fluid_restricted={"type": "boolean"},
    injuries={"type": "array", "items": one_of("head spinal_cord torso limb")},
    onset_at=TIME,
    bleeding_cause=one_of("trauma postpartum gut other"),
    pregnancy_weeks=number(0, 45),
    care_limits=one_of("full no_cpr no_intubation comfort unknown"),
)
VITALS = body(
    "taken_at",
    taken_at=TIME,
    sbp=number(20, 300),
    dbp=number(0, 200),
    map_reported=number(10, 250),
    bp_method=one_of("cuff manual palpated arterial unobtainable"),
    hr=number(0, 350),
    rr=number(0, 120),
    spo2=number(0, 100),
    etco2=number(0, 150),
    temp_c=number(10, 45),
    glucose_mg_dl=number(5, 2000),
    glucose_mmol_l=number(0.3, 111),
    avpu=one_of("A V P U"),
    cap_refill_s=number(0, 20),
    lungs=one_of("clear crackles wheeze diminished"),
    lactate_mmol_l=number(0, 30),
    source=one_of("manual monitor"),
) | {"dependentRequired": {"dbp": ["sbp"]}, "minProperties": 3}
SCHEMAS = {
    "case": body(
        "patient opened_at",
        opened_at=TIME,
        incident=TEXT,
        patient=PATIENT,
        complaint=TEXT,
        destination=TEXT,
        eta=TIME,
        impression=one_of(
            "septic hypovolemic hemorrhagic cardiogenic anaphylactic neurogenic obstructive undifferentiated"
        ),
    ),
    "vitals": VITALS,
    "check": body("treatment amount route", **PROPOSAL, at=TIME),
    "intervention": body(
        "treatment amount route given_at",
        **PROPOSAL,
        given_at=TIME,
        order=ID,
        status=one_of("given running"),
        container_ml=number(1, 10_000),
    ),
    "change": body(
        "at",
        at=TIME,
        status=one_of("finished stopped held running"),
        infused=quantity({"const": "mL"}),
        amount=AMOUNT,
        order=TEXT,
    ),
    "container": body(
        "at form treatment strength volume",
        at=TIME,
        form=one_of("syringe bag"),
        treatment=TEXT,
        strength=quantity(STRENGTH_UNIT),
        volume=quantity({"const": "mL"}),
        checked_by=TEXT,
    ),
    "procedure": body(
        "procedure at outcome",
        procedure=one_of(
            "iv_access io_access airway ventilation oxygen tourniquet pelvic_binder wound_packing chest_decompression "
            "ecg_12 pacing cardioversion defibrillation cpr warming splint other"
        ),
        at=TIME,
        site=TEXT,
        gauge=number(10, 30),
        settings=body("", joules=number(1, 360), synchronized={"type": "boolean"}),
        outcome=one_of("done failed attempted"),
    ),
    "order": body(
        "treatment amount route at reason",
        **PROPOSAL,
        at=TIME,
        reason=TEXT,
        action=one_of("give start change hold stop"),
        repeat={"type": "object"},
        titrate={"type": "object"},
    ),
    "readback": body(
        "treatment",
        **{key: PROPOSAL[key] for key in ("treatment", "route", "amount")},
        action=one_of("give start change hold stop"),
        titrate={"type": "object"},
        at=TIME,
    ),
    "answer": body("text", text=TEXT, at=TIME),
    "not_given": body("reason", reason=TEXT, at=TIME),
    "note": body("at text", at=TIME, text=TEXT),
    "phase": body("at phase", at=TIME, phase=TEXT),
    "question": body(
        "topic text", topic=one_of("advice destination refusal end_resuscitation other"), text=TEXT, at=TIME
    ),
    "understood": body("", at=TIME),
    "done": body("", at=TIME),
    "patch": body("destination_seen", destination_seen=TEXT),
    "handover": body("to at", to=TEXT, at=TIME),
    "close": body("outcome", outcome=one_of("handed_over refused died cancelled moved"), at=TIME),
}


def faults(kind: str, content: dict[str, Any]) -> list[str]:
    """What the contract would refuse in this body."""
    return [
        f"{kind} {'/'.join(map(str, error.absolute_path))}: {error.message}"
        for error in Draft202012Validator(SCHEMAS[kind]).iter_errors(content)
    ]
