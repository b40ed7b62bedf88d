"""What a case is made of, in the rules' own types, with what else its card and its journal tell."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from msgspec import Struct

from consult.state.check import Check, KnownSince, RulesName
from consult.state.people import Author as Author
from consult.state.people import Named as Named
from consult.state.people import UnitNamed as UnitNamed
from consult.state.voice import Countersigned as Countersigned
from consult.state.voice import VoiceOrder as VoiceOrder
from dosing.ground.cannulas import Access
from dosing.ground.facts import Amount, Container, Dose, Latest, Number, Reading
from dosing.ground.facts import Order as Ordered
from dosing.ground.kinds import ALERTS, Id, Time, one_of
from dosing.ground.titration import Titration

OPEN_ORDER = ("requested", "approved", "read_back")
COSIGN = "cosign"
SET_BACK = "set back"  # a step: it was read back before the weight was changed
DECIDE_AGAIN = "decide again"  # a step: what became known since lies beyond what its physician saw
ENDED_ORDER = ("given", "declined", "withdrawn", "not_given", "expired", "voided")


class RulesInForce(RulesName, frozen=True, kw_only=True):
    """The rule set by which the case is judged; ``approved`` by a medical director."""

    approved: bool


class PressureState(Struct, frozen=True, kw_only=True):
    """How the pressure stands against its goal, in mmHg; ``judged_by`` is ``map``, ``sbp``, or None: unobtainable."""

    state: Annotated[str, one_of("critical", "below_goal", "at_goal", "normal_range", "above_range", "unknown")]
    judged_by: str | None
    goal: Number
    text: str


class Derived(Struct, frozen=True, kw_only=True):
    """What follows from one set of vitals; pressures in mmHg, ``map`` is the one that decides."""

    map: Number | None = None
    map_computed: Number | None = None
    map_shown: str | None = None
    map_from: str | None = None
    pulse_pressure: Number | None = None
    shock_index: Number | None = None
    pressure: PressureState | None = None
    signs: tuple[str, ...] = ()


class KeptReading(Reading, frozen=True, kw_only=True):
    """A set of vitals with its place in the journal and the MAP that decides."""

    seq: int
    map: Number | None = None


class KeptLatest(Latest, frozen=True):
    """The newest value of one measurement, and the journal number of its set."""

    seq: int


class LostLine(Struct, frozen=True):
    """Since when the line by which something ran is lost; ``swollen``: what ran went beside the vein."""

    at: Time
    swollen: bool


class Given(Dose, frozen=True, kw_only=True):
    """Something given, as the card shows it: of an infusion what is in force; `not_as_ordered` what was ordered.

    `rate_unit` is the unit of the dose rate of an infusion that was told by the pump's rate alone, `reason` why it is
    held or has ended, where that was told, `lost_line` the newest line that it lost. `known_since` is what became known
    of the patient while it runs that lies beyond what a crew may give without an order.
    """

    seq: int
    title: str
    shown: str
    verdict: str
    by: str
    prior_by: str | None = None
    amount_text: str | None = None
    not_as_ordered: Amount | None = None
    rate_unit: str | None = None
    reason: str | None = None
    lost_line: LostLine | None = None
    voice_order: VoiceOrder | None = None
    in_error: bool = False
    known_since: tuple[KnownSince, ...] = ()


class InHand(Container, frozen=True, kw_only=True):
    """A syringe, bag or cylinder with all that its label says."""

    seq: int
    name: str | None = None
    mixed_by: str | None = None
    checked_by: str | None = None
    in_error: bool = False


class WayIn(Access, frozen=True, kw_only=True):
    """A way into the circulation, and where."""

    site: str | None = None


class Step(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One step of an order: what, when, by whom, perhaps why."""

    step: str
    at: Time
    by: str | None
    reason: str | None = None
    text: str | None = None


class Repeat(Struct, frozen=True, omit_defaults=True):
    """How many doses in all, and the least minutes between two."""

    times: int = 1
    every_min: Number | None = None


class Said(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a crew repeats of an order: what to do, an amount, or what is in the hand; as it was sent."""

    treatment: str
    action: str | None = None
    name: str | None = None
    route: str | None = None
    amount: Amount | None = None
    strength: Amount | None = None
    volume: Amount | None = None
    concentration: Amount | None = None
    rate: Amount | None = None
    titrate: Titration | None = None
    at: Time | None = None


class ReadBack(Struct, frozen=True, kw_only=True):
    """What was read back: ``said`` as it was sent, ``came_to`` the dose in the hand."""

    matches: bool
    differences: tuple[str, ...]
    said: Said
    came_to: Amount | None


class Order(Struct, frozen=True, kw_only=True):
    """An order or a request: its content now, its state, and each step with who and when.

    ``shown`` is the whole on one line, with the action unless that is to give: ``stop norepinephrine infusion``.
    ``question`` is a physician's newest query, ``answer`` the crew's to it, null while it is open. ``waiting_since`` of
    a request is null while a query stops the clock; ``paused_until`` is when it starts again at the latest. ``decider``
    is the membership of who decided. While ``waiting_for`` is ``cosign`` the order waits for another physician;
    ``hard_limit_reason`` is why it goes over a hard limit. ``intervention`` is what the order changes, holds or stops,
    or what a titrated start has started. ``given`` counts the doses, or the rates set by an order with ``titrate``.
    """

    id: Id
    case: Id
    state: Annotated[str, one_of(*OPEN_ORDER, *ENDED_ORDER)]
    treatment: str
    title: str
    shown: str
    requested_by: str
    requested_at: Time
    by: str
    action: str = "give"
    amount: Amount | None = None
    route: str = ""
    reason: str = ""
    name: str | None = None
    stock: Amount | None = None
    concentration: Amount | None = None
    over_min: Number | None = None
    gauge: Number | None = None
    product: str | None = None
    indication: str | None = None
    repeat: Repeat | None = None
    times: int = 1
    every_min: Number | None = None
    titrate: Titration | None = None
    intervention: Id | None = None
    check: Check | None = None
    given: int = 0
    given_at: tuple[Time, ...] = ()
    asked_for: str | None = None
    question: str | None = None
    answer: str | None = None
    paused_until: Time | None = None
    waiting_since: Time | None = None
    seen_at: Time | None = None
    decided_by: str | None = None
    decided_at: Time | None = None
    decision_reason: str | None = None
    decider: Id | None = None
    hard_limit_reason: str | None = None
    waiting_for: Annotated[str | None, one_of(COSIGN, None)] = None
    cosigned_by: str | None = None
    cosigned_at: Time | None = None
    cosign_reason: str | None = None
    approved_at: Time | None = None
    expires_at: Time | None = None
    mismatch: bool = False
    misread_at: Time | None = None
    read_back: ReadBack | None = None
    read_back_at: Time | None = None
    steps: tuple[Step, ...] = ()

    @property
    def open_question(self) -> str | None:
        """What a physician asked the crew about a request and has no answer to."""
        return self.question if self.state == "requested" and self.answer is None else None

    @property
    def waits_from(self) -> datetime | None:
        """From when on a request waits for a physician: while a question stops the clock, from when that ends."""
        return self.waiting_since or self.paused_until

    @property
    def to_read_back_from(self) -> datetime | None:
        """From when on an order waits for its read-back: once it was set back, from then on."""
        set_back = [step.at for step in self.steps if step.step == SET_BACK]
        return max(filter(None, [*set_back, self.cosigned_at or self.approved_at]), default=None)

    @property
    def known_since(self) -> str:
        """What became known after the decision, for which it is to be decided again; "" where it is not."""
        again = (step.reason or "" for step in reversed(self.steps) if step.step == DECIDE_AGAIN)
        return next(again, "") if self.state == "requested" else ""

    def for_rules(self, told: str = "") -> Ordered:
        """The order as the rules look at it; ``told`` is what became of it, in words."""
        return Ordered(
            id=self.id,
            treatment=self.treatment,
            state=self.state,
            amount=self.amount,
            concentration=self.concentration,
            route=self.route,
            times=self.times,
            every_min=self.every_min,
            over_min=self.over_min,
            given=self.given,
            waiting_since=self.waits_from,
            to_read_back_from=self.to_read_back_from,
            expires_at=self.expires_at,
            misread_at=self.misread_at,
            by=self.by,
            title=self.title,
            told=told,
            indication=self.indication,
            action=self.action,
            waits_for_cosign=self.waiting_for == COSIGN,
            cosigned_by=(self.cosigned_by or "") if self.hard_limit_reason else "",
            intervention=self.intervention,
            titrate=self.titrate,
            decided_at=self.decided_at,
            seen=self.check.seen if self.check else None,
            known_since=self.known_since,
        )


class Acknowledged(Struct, frozen=True):
    """Who has acknowledged an alert, and when."""

    by: str
    at: Time


class Alert(Struct, frozen=True, kw_only=True):
    """One thing that needs a person; one for each kind and cause, open until its cause is gone."""

    id: Id
    case: Id
    kind: Annotated[str, one_of(*ALERTS)]
    cause: str
    priority: Annotated[str, one_of("high", "medium", "low")]
    text: str
    raised_at: Time
    acknowledged: Acknowledged | None = None
    escalated_at: Time | None = None
    escalated_to: str | None = None
    cleared_at: Time | None = None
    cleared_because: str | None = None
