"""The rule set in force, and what may be given by it."""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from consult.models import RuleSetRecord
from consult.resources import name_of
from consult.resources.checks import PumpRate
from consult.state.check import Finding, RulesName
from consult.state.parts import Acknowledged
from dosing.ground.facts import Amount
from dosing.ground.kinds import Time
from dosing.rules.plain import plain
from dosing.rules.rule_set import RuleSet


class Volumes(Struct, frozen=True, kw_only=True):
    """Least and most as volumes of one strength, of an infusion as pump rates; ``syringe`` holds and reads both."""

    least: Amount | None
    most: Amount | None
    strength: Amount
    syringe: Amount | None


class VolumeOf(Struct, frozen=True):
    """The volume, or the pump rate, of an amount in one strength."""

    strength: Amount
    volume: Amount


class Usual(Struct, frozen=True):
    """An amount to choose, in mL/kg too where it is fluid, and where its limit comes from."""

    amount: Amount
    above_guide: bool
    per_kg: Amount | None
    volumes: tuple[VolumeOf, ...]
    source: str


class Left(Struct, frozen=True):
    """What is left before an order: ``count`` of ``of`` doses, and a total; null where there is no such limit.

    ``counted_whole`` says what of the total may have gone in only in part, and is counted in full.
    """

    count: int | None
    of: int | None
    total: Amount | None
    counted_whole: str


class WearsOff(Struct, frozen=True):
    """Between which times the last push wears off."""

    last_at: Time
    earliest: Time
    latest: Time
    text: str
    source: str


class FromPushes(Struct, frozen=True):
    """The infusion rate that the last pushes of its drug come to: information, not advice.

    ``treatment`` is what was pushed; ``rates`` are the same rate in every unit.
    """

    treatment: str
    pushes: int
    first_at: Time
    last_at: Time
    rates: tuple[Amount, ...]
    pump: tuple[PumpRate, ...]
    text: str
    source: str


class Offered(Struct, frozen=True, kw_only=True):
    """The standing limits, their volumes, amounts to choose from, and the least time from one dose to the next.

    ``start`` is up to what an infusion begins that does not run yet: more is a step. ``shortest`` is the least time in
    which one is given into a vein or bone; null where that may be a push.
    """

    least: Amount | None
    guide: Amount | None
    start: Amount | None
    most: Amount | None
    volumes: Volumes | None
    usual: tuple[Usual, ...]
    interval: Amount | None
    shortest: Amount | None


class OfferedByRoute(Offered, frozen=True, kw_only=True):
    """The same by routes that have limits of their own."""

    routes: tuple[str, ...]


class ForIndication(Offered, frozen=True, kw_only=True):
    """What may be given of one treatment to this patient, now; ``relevant`` if impression and state ask for it.

    ``for_what`` is the ``indication`` in words if the treatment has several, else empty. ``findings`` hold for every
    dose of it now, and ``by_order`` if they need an order. ``held`` means that this patient must not get it now: no
    amount is stated; ``no_mother``: it is for a pregnancy or after a birth, and none is on record. ``caution_sources``
    has one source for each caution, in their order. ``wears_off`` is of a push. ``by_route`` is empty if all routes
    share their limits; else the amounts here are those of its first.
    """

    treatment: str
    indication: str
    for_what: str
    title: str
    by_route: tuple[OfferedByRoute, ...]
    limit_sources: tuple[str, ...]
    recipe: tuple[str, ...]
    left: Left
    next_at: Time | None
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    caution_sources: tuple[str, ...]
    source: str
    no_mother: bool
    relevant: bool
    findings: tuple[Finding, ...]
    by_order: bool
    held: bool
    routes: tuple[str, ...]
    drug_class: str
    form: str
    wears_off: WearsOff | None
    from_pushes: FromPushes | None


class TreatmentGuidance(ForIndication, frozen=True, kw_only=True):
    """A treatment for the first of its ``indications``, with the same for each of them.

    It is ``relevant`` where it is for any of them.
    """

    indications: tuple[ForIndication, ...]


class Guidance(Struct, frozen=True):
    """All treatments of the rule set, those that fit first."""

    treatments: tuple[TreatmentGuidance, ...]
    rule_set: RulesName


class RuleSetAnswer(RulesName, frozen=True, kw_only=True):
    """The rule set in force, a source beside every number; ``approved`` by whom and when, null where nobody has.

    Its parts are as in the file: `/rules/schema.json` is the schema of that, where a number is a text with its unit.
    """

    approved: Acknowledged | None
    title: str
    goals: tuple[dict[str, Any], ...] = ()
    treatments: tuple[dict[str, Any], ...]
    sources: tuple[dict[str, str], ...]
    findings: dict[str, Any]
    tall_man: dict[str, str]
    names: tuple[dict[str, Any], ...] = ()
    products: tuple[dict[str, Any], ...]
    pressure: dict[str, Any]
    watch: dict[str, Any]
    ledger: dict[str, Any]
    pump: dict[str, Any]
    flow: dict[str, Any]
    drop_sets: tuple[dict[str, Any], ...]
    push_pull: tuple[dict[str, Any], ...]
    syringes: tuple[dict[str, Any], ...]
    procedures: tuple[dict[str, Any], ...]
    end_resuscitation: dict[str, Any] = {}


def rule_set(record: RuleSetRecord, rules: RuleSet) -> RuleSetAnswer:
    """A rule set that was kept, with who approved it."""
    by, at = (record.approved_by, record.approved_at) if record.approved else (None, None)
    content: dict[str, Any] = plain(rules)
    return RuleSetAnswer(**content, approved=Acknowledged(name_of(by), at) if by and at else None)
