"""What is in hand: a mixed syringe, a hung bag, an oxygen cylinder."""

from __future__ import annotations

from typing import Any

from api.fields import Choice, Number, StrengthEntry, Text, Time, Unit, VolumeEntry
from api.serializers.entry import Entry
from api.shape import Shape, refusal
from dosing.ground import facts
from dosing.held.oxygen import PRESSURES, SIZES, possible

FORMS = ("syringe", "bag", "cylinder")  # not `kind`: in a batch that names the entry


class GaugePressure(Shape):
    """What a cylinder's gauge reads."""

    value = Number(over=0, most=10_000)
    unit = Unit(PRESSURES)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse what no cylinder holds: mostly psi taken for bar."""
        if not possible(facts.Amount(**attrs)):
            raise refusal("value", "No cylinder holds so much: psi or bar?", "out_of_range")
        return attrs


class CylinderFactor(Shape):
    """How much gas a cylinder gives for each step of its gauge; in L/bar that is its water volume."""

    value = Number(over=0, most=1000)
    unit = Unit(tuple(f"L/{unit}" for unit in PRESSURES))


class CylinderEntry(Shape):
    """An oxygen cylinder: a usual size by its letter, or its own factor; and its pressure."""

    size = Choice(SIZES, required=False)
    factor = CylinderFactor(required=False)
    pressure = GaugePressure()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need the size or the factor, not both."""
        if ("size" in attrs) == ("factor" in attrs):
            raise refusal("size", "Either a size or a factor is needed.", "one_of")
        return attrs


class ContainerEntry(Entry):
    """A syringe that was mixed, a bag that was hung, a cylinder that was opened; `at` is when."""

    at = Time(required=False)
    form = Choice(FORMS)
    treatment = Text(60, required=False, allow_null=True, help_text="the rule set's; null for one that it lacks")
    name = Text(120, required=False, help_text="of what the rule set lacks")
    strength = StrengthEntry(required=False, help_text="none for a fluid")
    volume = VolumeEntry(required=False)
    cylinder = CylinderEntry(required=False)
    mixed_by = Text(120, required=False)
    checked_by = Text(120, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A cylinder has its gauge, all else a volume and a name."""
        gas = attrs["form"] == "cylinder"
        foreign = ("strength", "volume", "treatment", "name") if gas else ("cylinder",)
        for name in foreign:
            if attrs.get(name) is not None:
                raise refusal(name, f"A {attrs['form']} has no such field.", "not_for_form")
        for name in ("cylinder",) if gas else ("volume",):
            if name not in attrs:
                raise refusal(name, "This field is required.", "required")
        if not gas and (attrs.get("treatment") is None) == ("name" not in attrs):
            raise refusal("treatment", "Either a treatment or a name is needed.", "one_of")
        return attrs


class DiscardEntry(Entry):
    """That a syringe, bag or cylinder was discarded."""

    at = Time(required=False)
    reason = Text(200, required=False)
