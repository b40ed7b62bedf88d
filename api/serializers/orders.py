"""Orders: asked or given, decided, read back, withdrawn, not given."""

from __future__ import annotations

from typing import Any

from api.fields import AmountEntry, Choice, Id, Number, RateEntry, StrengthEntry, Text, Time, VolumeEntry
from api.serializers.entry import Entry
from api.serializers.interventions import OF_OTHER, ROUTES, Proposal, TitrationEntry, need_name
from api.shape import Shape, refusal

ACTIONS = ("give", "start", "change", "hold", "stop")
BEGINS = ("give", "start")
WITHOUT_AMOUNT = ("hold", "stop")
IN_THE_HAND = (("amount",), ("strength", "volume"), ("concentration", "rate"))


HARD_LIMIT_REASON = "by a physician, of an amount beyond a hard limit: then a second physician co-signs"


class RepeatEntry(Shape):
    """How many doses in all, and the least minutes between two."""

    times = Number(1, 20, whole=True)
    every_min = Number(over=0, most=1440, required=False)


class OrderEntry(Proposal, Entry):
    """A request by crew, or an order by a physician."""

    amount = AmountEntry(required=False)
    route = Choice(ROUTES, required=False)
    name = Text(120, required=False, help_text=OF_OTHER)
    reason = Text(500, required=False)
    repeat = RepeatEntry(required=False)
    action = Choice(ACTIONS, default="give")
    intervention = Id(required=False, help_text="what runs, to be changed, held or stopped")
    titrate = TitrationEntry(required=False)
    hard_limit_reason = Text(500, required=False, help_text=HARD_LIMIT_REASON)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need what the action needs, a name where the treatment is `other`."""
        need_name(attrs)
        needs = ("amount", "route") if attrs["action"] in BEGINS else ("amount", "intervention")
        for name in needs[attrs["action"] in WITHOUT_AMOUNT :]:
            if name not in attrs:
                raise refusal(name, "This field is required.", "required")
        if "titrate" in attrs and attrs["action"] not in ("start", "change"):
            raise refusal("titrate", "Only what starts or changes is stepped up.", "not_running")
        return attrs


class Decision(Entry):
    """A physician's answer to a request."""

    NEEDS = {"approve": (), "change": ("reason",), "ask": ("text",), "decline": ("reason",)}
    MAY_HAVE = {
        "approve": {"reason", "hard_limit_reason"},
        "change": {"reason", "amount", "route", "repeat", "titrate", "hard_limit_reason"},
        "ask": {"text"},
        "decline": {"reason"},
    }

    decision = Choice(tuple(NEEDS))
    reason = Text(500, required=False)
    amount = AmountEntry(required=False)
    route = Choice(ROUTES, required=False)
    repeat = RepeatEntry(required=False)
    titrate = TitrationEntry(
        required=False, allow_null=True, help_text="null: without the steps asked for; left out: they stay"
    )
    text = Text(2000, lines=True, required=False)
    hard_limit_reason = Text(500, required=False, help_text=HARD_LIMIT_REASON)
    at = Time(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need what this decision needs, and refuse what it would leave unheard."""
        decision = attrs["decision"]
        for name in self.NEEDS[decision]:
            if name not in attrs:
                raise refusal(name, "This field is required.", "required")
        for name in sorted(attrs.keys() - self.MAY_HAVE[decision] - {"decision", "id", "at", "sent_at"}):
            raise refusal(name, f"The decision “{decision}” has no such field.", "unknown_field")
        if decision == "change" and not attrs.keys() & (self.MAY_HAVE["change"] - {"reason", "hard_limit_reason"}):
            raise refusal("amount", "Say what changes: amount, route, repeat or steps.", "one_of")
        return attrs


class Answer(Entry):
    """The crew's answer to a physician's query about its request."""

    text = Text(2000, lines=True)
    question = Text(2000, lines=True, required=False, help_text="as it was asked; else it is the newest")
    at = Time(required=False)


class ReadBackEntry(Entry):
    """What the crew understood: the action, the amount, or what is in hand; steps as a whole."""

    treatment = Text(60)
    action = Choice(ACTIONS, required=False, help_text="needed to change, hold or stop what runs")
    name = Text(120, required=False, help_text=OF_OTHER)
    route = Choice(ROUTES, required=False, help_text="needed but to change, hold or stop what runs")
    amount = AmountEntry(required=False)
    strength = StrengthEntry(required=False)
    volume = VolumeEntry(required=False)
    concentration = StrengthEntry(required=False)
    rate = RateEntry(required=False)
    titrate = TitrationEntry(required=False)
    at = Time(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """At most one of the three ways to say how much; an order to hold or stop has no amount to repeat."""
        need_name(attrs)
        said = {name for way in IN_THE_HAND for name in way if name in attrs}
        if said and said not in [set(way) for way in IN_THE_HAND]:
            text = "Enter either an amount, or strength and volume, or concentration and rate."
            raise refusal("amount", text, "one_of")
        return attrs


class Reason(Entry):
    """Why an order is withdrawn, co-signed or was not given."""

    reason = Text(500)
    at = Time(required=False)
