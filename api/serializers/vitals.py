"""One set of vitals as it is sent: what can be measured, and which parts of a pressure fit together."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from api.fields import Choice, Number, Text, Time
from api.serializers.entry import Entry
from api.shape import Shape, refusal
from dosing.ground.measurements import IN_OTHER_UNITS, MEASUREMENTS, Measurement

# What says a pressure of this method: a palpated one is a systolic, one that cannot be obtained is none at all.
MEASURED_BY = {"sbp", "map_reported", "dbp"}
NEEDS_PRESSURE = {"cuff": MEASURED_BY, "manual": MEASURED_BY, "arterial": MEASURED_BY, "palpated": {"sbp", "dbp"}}
NOT_A_MEASUREMENT = {"taken_at", "id", "source", "bp_method"}


COMA_SCALE = {
    "type": "object",
    "additionalProperties": False,
    "required": ["eye", "verbal", "motor"],
    "properties": {"eye": {"type": "integer"}, "verbal": {"type": "integer"}, "motor": {"type": "integer"}},
}


class ComaScale(Shape):
    """The three parts of the Glasgow coma scale."""

    eye = Number(1, 4, whole=True)
    verbal = Number(1, 5, whole=True)
    motor = Number(1, 6, whole=True)


@extend_schema_field({"oneOf": [{"type": "integer", "minimum": 3, "maximum": 15}, COMA_SCALE]})
class ComaScaleOrTotal(serializers.Field):
    """The three parts of the Glasgow coma scale, or their total where only that is known."""

    parts = ComaScale()
    total = Number(3, 15, whole=True)

    def to_internal_value(self, data: Any) -> Any:
        """A dict of the parts, or the total as a number."""
        return (self.parts if isinstance(data, dict) else self.total).run_validation(data)


class VitalsEntry(Entry):
    """The contract's "Vitals": every field but `taken_at` is optional, at least one measurement must be there."""

    happened = ("taken_at",)

    taken_at = Time()
    source = Choice(("manual", "monitor"), required=False)  # type: ignore[assignment]

    def get_fields(self) -> dict[str, Any]:
        """All that can be measured, beside what every set has."""
        return super().get_fields() | {each.name: _field(each) for each in MEASUREMENTS}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a set without a measurement, and parts of a pressure that contradict each other."""
        method, sbp, dbp = attrs.get("bp_method"), attrs.get("sbp"), attrs.get("dbp")
        if method in NEEDS_PRESSURE and not attrs.keys() & NEEDS_PRESSURE[method]:
            raise refusal("bp_method", "A method needs a pressure.", "without_pressure")
        if method != "unobtainable" and not attrs.keys() - NOT_A_MEASUREMENT - {"sent_at"}:
            raise refusal("", "At least one measurement is needed.", "nothing_measured")
        if method == "unobtainable":
            _refuse({"sbp", "dbp"} & attrs.keys(), "A pressure that cannot be obtained has no value.", "unobtainable")
        if method == "palpated":
            _refuse({"dbp"} & attrs.keys(), "A palpated pressure has no diastolic.", "palpated")
        if dbp is not None and sbp is None:
            raise refusal("dbp", "A diastolic needs its systolic.", "needs_systolic")
        if dbp is not None and dbp >= sbp:
            raise refusal("dbp", "The diastolic lies below the systolic.", "not_below_systolic")
        twice = {name for name, told in IN_OTHER_UNITS.items() if {name, told.name} <= attrs.keys()}
        _refuse(twice, "Told in one unit, not in both.", "told_twice")
        return attrs


def _field(measurement: Measurement) -> serializers.Field:
    shown: dict[str, Any] = {
        "required": False,
        "help_text": "; ".join(filter(None, [measurement.unit, measurement.note])),
    }
    if measurement.name == "gcs":
        return ComaScaleOrTotal(required=False)
    if measurement.range:
        return Number(*measurement.range, **shown)
    return Choice(tuple(measurement.choices), **shown) if measurement.choices else Text(measurement.longest, **shown)


def _refuse(names: set[str], detail: str, code: str) -> None:
    if names:
        raise ValidationError({name: [ErrorDetail(detail, code=code)] for name in sorted(names)})
