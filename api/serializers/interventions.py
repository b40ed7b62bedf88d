"""Proposals, and what was given."""

from __future__ import annotations

import re
from typing import Any

from api.fields import AmountEntry, Choice, Flag, Id, InfusedEntry, Number, StrengthEntry, Text, Time
from api.serializers.entry import Entry
from api.shape import Shape, refusal

ROUTES = ("IV", "IO", "IM", "IN", "SC", "PO")
OTHER = "other"  # a treatment that the rule set lacks
OF_OTHER = "of a drug that the rule set lacks"
# A word behind a number that is no unit: "10 over 5 min", "10 IV", "2 x".
NO_UNIT = r"(?!(?:over|in|for|at|by|per|every|q|x|times|once|twice|slow|slowly|now|iv|io|im|sc|po|sl)\b)"
NUMBER_WITH_UNIT = re.compile(rf"\d[\d.,/]*\s*-?\s*{NO_UNIT}[^\W\d_]", re.IGNORECASE)
DRAWN_FROM = "the syringe or bag that it is drawn from; else the newest in hand"


def need_name(attrs: dict[str, Any]) -> None:
    """Refuse `other` without a name: what it is must be said; and a name beside a treatment of the rule set."""
    if attrs["treatment"] == OTHER and "name" not in attrs:
        raise refusal("name", "Which drug? The treatment “other” needs its name.", "required")
    refuse_names(attrs)


def refuse_names(attrs: dict[str, Any]) -> None:
    """Refuse a name and a text of its own for a treatment of the rule set."""
    if attrs["treatment"] != OTHER and attrs.keys() & {"name", "amount_text"}:
        raise refusal("treatment", "Only the treatment “other” has a name and a text of its own.", "not_other")


def _lacks_unit(told: str) -> bool:
    """Whether a dose in words holds a number, and none with a unit behind it."""
    return re.search(r"\d", told) is not None and NUMBER_WITH_UNIT.search(told) is None


class Proposal(Shape):
    """A treatment that is asked about, in the contract's words."""

    treatment = Text(60)
    amount = AmountEntry()
    route = Choice(ROUTES)
    at = Time(required=False)
    stock = StrengthEntry(required=False, help_text="the strength in hand")
    concentration = StrengthEntry(required=False, help_text="of an infusion")
    over_min = Number(over=0, most=1440, required=False)
    gauge = Number(10, 30, required=False)
    product = Text(60, required=False)
    indication = Text(60, required=False, help_text="what for, by a word of the treatment's; absent: its first")


class GoalOfSteps(Shape):
    """The pressure to reach, in mmHg."""

    measure = Choice(("map", "sbp"))
    floor = Number(over=0, most=300)


class TitrationEntry(Shape):
    """How a rate is stepped up: by `step`, no sooner than every `every_min`, to `most`, for a pressure."""

    step = AmountEntry()
    every_min = Number(1, 120)
    most = AmountEntry()
    goal = GoalOfSteps()
    call_at = AmountEntry(required=False, help_text="the rate at which the crew calls before it goes on")


class ProposalEntry(Proposal, Entry):
    """A proposal to be checked now; nothing is written."""

    name = Text(120, required=False, help_text=OF_OTHER)
    container = Id(required=False, help_text=DRAWN_FROM)
    new_rate = Flag(default=False, help_text="another rate of the infusion that runs, not a second one")
    titrate = TitrationEntry(required=False, help_text="of an order that lets the crew step the rate up")
    order = Id(required=False, help_text="the order that it would be given by: what its physician saw is a caution")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Take a name for `other` alone; nothing hangs on it yet."""
        refuse_names(attrs)
        return attrs


class VoiceOrderEntry(Shape):
    """Which physician, by user name, ordered a dose by voice, and when."""

    physician = Text(150)
    at = Time()


class InterventionEntry(Proposal, Entry):
    """What was given or is running; `given_at` is when, so that a proposal's own `at` says nothing here."""

    happened = ("given_at", "voice_order/at")

    given_at = Time()
    amount = AmountEntry(required=False)
    route = Choice(ROUTES, required=False)
    order = Id(required=False)
    status = Choice(("given", "running"), default="given")
    given_by = Text(120, required=False)
    checked_by = Text(120, required=False)
    container_ml = Number(over=0, most=10_000, required=False, help_text="of the bag that this hangs")
    container = Id(required=False, help_text=DRAWN_FROM)
    access = Id(required=False, help_text="the procedure that made the access")
    prior = Flag(default=False)
    prior_by = Choice(("hospital", "bystander", "patient", "other_crew"), required=False)
    name = Text(120, required=False, help_text=OF_OTHER)
    amount_text = Text(200, required=False, help_text=OF_OTHER)
    voice_order = VoiceOrderEntry(required=False, help_text="it waits for the physician's countersign")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need a name where the treatment is `other`, an amount and a route where it is not."""
        attrs.pop("at", None)
        other = attrs["treatment"] == OTHER
        need_name(attrs)
        for name in () if other else ("amount", "route"):
            if name not in attrs:
                raise refusal(name, "This field is required.", "required")
        if other and not attrs.keys() & {"amount", "amount_text"}:
            raise refusal("amount_text", "Say how much was given.", "required")
        if _lacks_unit(attrs.get("amount_text", "")):
            raise refusal("amount_text", "A number without its unit: say which, such as 10 mg.", "no_unit")
        if "prior_by" in attrs and not attrs["prior"]:
            raise refusal("prior_by", "Only what was given before this crew has this.", "not_prior")
        _voice_order(attrs)
        return attrs


def _voice_order(attrs: dict[str, Any]) -> None:
    """Refuse a voice order beside another order, of what others gave, and one that came after the dose."""
    voice = attrs.get("voice_order")
    if voice and ("order" in attrs or attrs["prior"]):
        before = "What was given before the crew came has no order by voice: leave it out."
        raise refusal(
            "voice_order", before if attrs["prior"] else "Name an order, or one by voice, not both.", "one_of"
        )
    if voice and voice["at"] > attrs["given_at"]:
        raise refusal("voice_order/at", "The order lies after the dose.", "after_dose")


class CountersignEntry(Entry):
    """What the physician named for a voice order says: by default that it was theirs."""

    agreed = Flag(default=True, help_text="false: there was no such order; the dose is then judged without one")
    reason = Text(500, required=False, help_text="needed where it is not agreed to")
    at = Time(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need a reason where the order is denied."""
        if not attrs["agreed"] and "reason" not in attrs:
            raise refusal("reason", "Say why: the dose counts as given without an order.", "required")
        return attrs


class InterventionChangeEntry(Entry):
    """The end of something that ran, a pause (`held`) or its end (`running`), or its new rate."""

    ENDS = ("finished", "stopped")

    at = Time(required=False)
    status = Choice((*ENDS, "held", "running"), required=False)
    infused = InfusedEntry(required=False, help_text="how much went in; 0 only of what was stopped")
    amount = AmountEntry(required=False)
    reason = Text(500, required=False, help_text="why it was held or has ended")
    order = Id(required=False, help_text="the order that it carries out")
    concentration = StrengthEntry(required=False, help_text="of the bag that hangs from then on, with the new rate")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Need either a status or a new rate."""
        if "concentration" in attrs and "amount" not in attrs:
            raise refusal("concentration", "Say with the new rate of which bag it is.", "without_amount")
        if ("status" in attrs) == ("amount" in attrs):
            raise refusal("status", "Either a status or a new amount is needed.", "one_of")
        if "infused" in attrs and attrs.get("status") not in self.ENDS:
            raise refusal("infused", "Say how much was infused with its end only.", "without_status")
        if "infused" in attrs and not attrs["infused"]["value"] and attrs["status"] != "stopped":
            raise refusal("infused/value", "What none went in of was stopped, not finished.", "not_above")
        if "reason" in attrs and attrs.get("status") not in (*self.ENDS, "held"):
            raise refusal("reason", "Say why with a pause or an end only.", "without_status")
        return attrs
