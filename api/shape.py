"""What a request's content looks like: DRF fields declared once, bound once, used by every request.

A DRF serializer copies all its fields for each instance, which costs more than reading them. A shape holds no state of
a request, so that one instance per class serves all of them.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

UNKNOWN = ErrorDetail("There is no such field.", code="unknown_field")
MISSING = ErrorDetail("This field is required.", code="required")


class Shape(serializers.Serializer):
    """An object of named fields; unknown names are refused, and absent ones stay absent unless they have a default."""

    default_error_messages = {"invalid": "An object is needed."}

    @cached_property
    def needed(self) -> frozenset[str]:
        """The names that must be there."""
        return frozenset(name for name, field in self.fields.items() if field.required)

    @cached_property
    def assumed(self) -> dict[str, Any]:
        """What stands for a name that is absent."""
        return {name: field.default for name, field in self.fields.items() if field.default is not serializers.empty}

    def run_validators(self, value: Any) -> None:
        """A shape has none, and no field that is only read; `validate` refuses what does not fit together."""

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        """The read values by name; `ValidationError` names every fault."""
        if not isinstance(data, dict):
            raise ValidationError({"non_field_errors": [ErrorDetail("An object is needed.", code="not_an_object")]})
        fields, found = self.fields, dict(self.assumed)
        faults: dict[str, Any] = {}
        for name, value in data.items():
            field = fields.get(name)
            if field is None:
                faults[name] = [UNKNOWN]
                continue
            try:
                found[name] = field.run_validation(value)
            except ValidationError as fault:
                faults[name] = fault.detail
        faults.update({name: [MISSING] for name in self.needed if name not in data})
        if faults:
            raise ValidationError(faults)
        return found


def refusal(pointer: str, detail: str, code: str) -> ValidationError:
    """The error of one fault found after the fields themselves were read; the pointer is a name or a path of names."""
    inner: Any = [ErrorDetail(detail, code=code)]
    for step in reversed(pointer.split("/") if pointer else ["non_field_errors"]):
        inner = {step: inner}
    return ValidationError(inner)
