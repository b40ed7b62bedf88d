"""A proposal held against the rules, and how what is proposed is made to run."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
from msgspec import Struct
from msgspec.structs import asdict

from consult.state.check import Check, Give
from dosing.check import giving
from dosing.ground.facts import Amount
from dosing.tell import delivery


class Cannula(Struct, frozen=True):
    """Whether the flow goes through a gauge, by gravity or with a pressure infuser."""

    gauge: int
    by_gravity: bool
    by_pressure: bool


class Drops(Struct, frozen=True):
    """The flow in drops of one kind of set, ``per_ml`` drops to 1 mL; half a drop rounds up.

    ``usable``: no faster than can be counted, and whole drops are close enough.
    """

    per_ml: float
    per_min: int
    exact: float
    usable: bool


class Strokes(Struct, frozen=True):
    """Push and pull with one size of syringe, for a child; ``last`` is what the last stroke gives.

    ``managed``: whether people reached such a flow in a test, null if nobody tested it.
    """

    syringe: Amount
    count: int
    every_s: float
    last: Amount
    managed: bool | None


class Pump(Struct, frozen=True):
    """What a pump sets, in its steps, and the dose that this gives."""

    set: Amount
    gives: Amount | None


class PumpRate(Struct, frozen=True):
    """The pump rate of one standard strength."""

    strength: Amount
    rate: Amount


class Flow(Struct, frozen=True, kw_only=True):
    """How a bolus or an infusion is made to run: information, no judgment.

    ``needed`` is in mL/min, null while the strength of an infusion is not known. ``cannulas``: the widest first, none
    for IO or blood. ``rates``: the rate of an infusion in every unit. ``lines``: the same in words.
    """

    needed: Amount | None
    over_min: float | None
    cannulas: tuple[Cannula, ...]
    drops: tuple[Drops, ...]
    strokes: tuple[Strokes, ...]
    rates: tuple[Amount, ...]
    pump: Pump | None
    by_strength: tuple[PumpRate, ...]
    lines: tuple[str, ...]
    sources: tuple[str, ...]


class Words(Struct, frozen=True):
    """What to give in words: the dose, what is drawn up or set, the strength, the time; empty means not known."""

    dose: str
    measure: str
    of: str
    over: str


class CheckedProposal(Check, frozen=True, kw_only=True):
    """The check of a proposal: in words part by part, and its flow where it is fluid, blood or an infusion.

    ``effects`` tell before a decision what it would do: the pump's rate, the total, how long what is in hand lasts, and
    what the last dose did.
    """

    words: Words | None
    flow: Flow | None
    effects: tuple[str, ...]


def checked_proposal(check: Check, how: delivery.Flow | None, effects: Iterable[str]) -> CheckedProposal:
    """A check with the flow and the effects of what it is about."""
    flow = None if how is None else msgspec.convert(how.as_dict(), Flow)
    return CheckedProposal(**asdict(check), words=_in_words(check.give), flow=flow, effects=tuple(effects))


def _in_words(give: Give | None) -> Words | None:
    """None where nothing is to be given, or its amount was told in words already."""
    if give is None or give.dose is None:
        return None
    return msgspec.convert(msgspec.convert(give, giving.Give, from_attributes=True).words, Words)
