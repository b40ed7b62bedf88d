"""What is in hand: recorded when it is mixed, hung or opened, and taken out of hand again."""

from __future__ import annotations

from msgspec.structs import replace

from consult import events, problems
from consult.case.decide.added_up import adding_up
from consult.case.decide.asked import Asked, Decided, Known, container
from consult.case.decide.times import not_before
from consult.case.entries import ContainerEntry, DiscardEntry, DoseEntry, Proposed
from consult.case.in_hand import shown
from consult.state.case import CaseState
from consult.state.parts import InHand
from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.held import ledger
from dosing.rules.rule_set import RuleSet


def record_container(known: Known, asked: Asked[ContainerEntry]) -> Decided:
    """Record a mixed syringe, a hung bag or an oxygen cylinder: what, how strong, how much, by whom.

    Raises Invalid for what cannot be understood; a strength that no recipe makes is kept, and told.
    """
    entry = asked.content
    _require_understood(entry, known.rules)
    held = InHand(
        id=asked.id,
        seq=known.next_seq,
        form=entry.form,
        at=asked.at,
        treatment=entry.treatment,
        strength=entry.strength,
        volume=entry.volume,
        cylinder=entry.cylinder,
        name=entry.name,
        mixed_by=entry.mixed_by or asked.by.name,
        checked_by=entry.checked_by,
    )
    told = shown(held, known.rules)
    event = events.ContainerRecorded(id=asked.id, content=asked.sent, shown=told, container=held)
    return Decided([adding_up(known.whole(asked.at), asked, event)])


def _require_understood(entry: ContainerEntry, rules: RuleSet) -> None:
    """Raise Invalid for a treatment that the rule set lacks, and for a strength of another kind than its own."""
    slug, strength = entry.treatment, entry.strength
    measurable("volume", entry.volume)
    measurable("strength", strength)
    if slug is None:
        return
    treatment = rules.treatments.get(slug)
    if treatment is None:
        raise problems.Invalid.at("/treatment", _("{slug!r} is not in the rule set.", slug=slug), "unknown_treatment")
    if strength is not None and not ledger.can_hold(treatment, strength):
        words = _(
            "{treatment} is not measured in {unit}.",
            treatment=text.drug_text(treatment.title, rules.tall_man),
            unit=strength.unit,
        )
        raise problems.Invalid.at("/strength/unit", words, "wrong_unit")
    if strength is None and not ledger.is_fluid(treatment):
        raise problems.Invalid.at("/strength", _("Give the strength of what is in hand."), "required")


def measurable(name: str, amount: Amount | None) -> None:
    """Raise Invalid where an amount is beyond anything that could be in hand or given."""
    try:
        _ = units.quantity(amount) if amount else None
    except units.WrongUnit as error:
        raise problems.Invalid.at(f"/{name}", error.detail, error.code) from error


def hung_by(known: Known, entry: DoseEntry, asked: Asked[DoseEntry]) -> InHand | None:
    """The bag that an infusion or a fluid hangs where it was started from one of a stated volume: no second entry."""
    if entry.container or entry.container_ml is None or not _hangs(entry, known.rules):
        return None
    volume = Amount(entry.container_ml, "mL")
    measurable("container_ml", volume)
    return InHand(
        id=asked.id,
        seq=known.next_seq,
        form=ledger.form_of(volume, known.rules),
        at=entry.given_at,
        treatment=entry.treatment,
        strength=entry.concentration,
        volume=volume,
        hung=True,
        mixed_by=entry.given_by or asked.by.name,
        checked_by=entry.checked_by,
    )


def _hangs(entry: DoseEntry, rules: RuleSet) -> bool:
    treatment = rules.treatments.get(entry.treatment)
    if treatment is None or entry.prior:
        return False
    running = entry.status == "running" and entry.concentration is not None
    return running or ledger.is_fluid(treatment)


def require_known(state: CaseState, entry: Proposed) -> None:
    """Raise Invalid where what is asked or was given names a container that this case has not, or an erroneous one."""
    if entry.container:
        held = container(state, str(entry.container))
        if held is None or held.in_error:
            raise problems.Invalid.at("/container", _("This case has no such syringe, bag or cylinder."), "not_found")


def discard(known: Known, asked: Asked[DiscardEntry], container_id: str) -> Decided:
    """Take a syringe, bag or cylinder out of hand; done once, again is a wrong state."""
    held = container(known.state, container_id)
    if held is None:
        raise problems.NotFound(_("There is no such syringe, bag or cylinder here."))
    at = not_before(asked.at, held.at, asked.offset_s, known.past.offset_of_container(container_id))
    if held.in_error:
        raise problems.WrongState(_("This was entered in error."))
    if held.discarded_at:
        raise problems.WrongState(_("This has already been discarded."))
    if at is None:
        raise problems.Invalid.at("/at", _("It cannot be discarded before it was in hand."))
    told = shown(replace(held, discarded_at=at), known.rules)
    reason = asked.content.reason
    event = events.ContainerDiscarded(container=container_id, shown=told, reason=reason, discarded_at=at)
    return Decided([adding_up(known.whole(at), asked, event)])
