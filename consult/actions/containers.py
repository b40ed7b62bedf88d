"""What is in hand: recorded when it is mixed, hung or opened, and taken out of hand again."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from consult import access, events, problems
from consult.access import Actor
from consult.actions import clocks
from consult.actions.cases import sent
from consult.actions.entry import Data, Draft, Written, write
from consult.card.facts import add_container, kept_container
from consult.card.in_hand import shown
from consult.models import Container, Intervention
from consult.resources import container_dict
from dosing import ledger, text, units
from dosing.facts import Amount
from dosing.rule_set import RuleSet

HUNG = ("concentration", "container_ml", "given_by", "checked_by")


def record_container(actor: Actor, case_uid: UUID, data: Data, now: datetime) -> Written:
    """Record a mixed syringe, a hung bag or an oxygen cylinder: what, how strong, how much, by whom.

    Raises Invalid for what cannot be understood; a strength that no recipe makes is kept, and told.
    """
    return write(actor, case_uid, "container", data, now, act=_record, model=Container, show=container_dict)


def _record(draft: Draft, data: Data) -> Container:
    _understood(data, draft.rules)
    content = {"mixed_by": draft.sender.name, **sent(draft.as_sent)}
    at = draft.happened_at()
    row = _kept(draft, at=at, form=data["form"], treatment=data.get("treatment") or "", data=content)
    draft.event = events.ContainerRecorded(id=row.uid, content=content, shown=shown(kept_container(row), draft.rules))
    return row


def _kept(draft: Draft, **columns: Any) -> Container:
    row = Container(**draft.entry_fields(), **columns)
    row.save(force_insert=True)
    add_container(draft.kept, kept_container(row))
    return row


def _understood(data: Data, rules: RuleSet) -> None:
    """Raise Invalid for a treatment that the rule set lacks, and for a strength of another kind than its own."""
    slug, strength = data.get("treatment"), data.get("strength")
    measurable("volume", data.get("volume"))
    measurable("strength", strength)
    if slug is None:
        return
    treatment = rules.treatments.get(slug)
    if treatment is None:
        raise problems.Invalid.at("/treatment", f"{slug!r} is not in the rule set.", "unknown_treatment")
    if strength is not None and not ledger.can_hold(treatment, Amount(strength["value"], strength["unit"])):
        words = f"{text.drug_text(treatment.title, rules.tall_man)} is not measured in {strength['unit']}."
        raise problems.Invalid.at("/strength/unit", words, "wrong_unit")
    if strength is None and not ledger.is_fluid(treatment):
        raise problems.Invalid.at("/strength", "The strength of what is in hand is needed.", "required")


def measurable(name: str, amount: Data | None) -> None:
    """Raise Invalid where an amount is beyond anything that could be in hand or given."""
    try:
        _ = units.quantity(Amount(amount["value"], amount["unit"])) if amount else None
    except units.WrongUnit as error:
        raise problems.Invalid.at(f"/{name}", error.detail, error.code) from error


def hung_with(draft: Draft, row: Intervention, data: Data) -> None:
    """An infusion or a fluid that was started from a bag of a stated volume hangs that bag: no second entry."""
    if data.get("container") or not _hangs(data, draft.rules):
        return
    content = sent({name: data[name] for name in HUNG if data.get(name) is not None})
    volume = {"value": content.pop("container_ml"), "unit": "mL"}
    measurable("container_ml", volume)
    strength = content.pop("concentration", None)
    known = {"mixed_by": content.pop("given_by", draft.sender.name), **content}
    held = {"strength": strength, "volume": volume, **known} if strength else {"volume": volume, **known}
    _kept(
        draft,
        at=row.given_at,
        form=ledger.form_of(Amount(volume["value"], "mL"), draft.rules),
        treatment=row.treatment,
        data=held,
        hung_with=row,
    )


def _hangs(data: Data, rules: RuleSet) -> bool:
    treatment = rules.treatments.get(data["treatment"])
    if treatment is None or data.get("container_ml") is None or data.get("prior"):
        return False
    running = data.get("status") == "running" and data.get("concentration") is not None
    return running or ledger.is_fluid(treatment)


def named(draft: Draft, data: Data) -> None:
    """Raise Invalid where an intervention names a container that this case has not, or one entered in error."""
    if data.get("container"):
        uid = str(data["container"])
        if not any(each["id"] == uid and not each["in_error"] for each in draft.kept["containers"]):
            raise problems.Invalid.at("/container", "This case has no such syringe, bag or cylinder.", "not_found")


def discard(actor: Actor, container_uid: UUID, data: Data, now: datetime) -> Written:
    """Take a syringe, bag or cylinder out of hand; done once, again is a wrong state."""
    row = access.container_for(actor, container_uid)
    return write(
        actor,
        row.case.uid,
        "discard",
        data,
        now,
        act=lambda draft, values: _discard(draft, values, row.pk),
        model=Container,
        show=container_dict,
        target=container_uid,
    )


def _discard(draft: Draft, data: Data, pk: int) -> Container:
    row = Container.objects.select_related("case").get(pk=pk)
    at = clocks.not_before(draft, draft.happened_at(), row.at, row.clock_offset_s)
    if row.in_error:
        raise problems.WrongState("This was entered in error.")
    if row.discarded_at:
        raise problems.WrongState("This has been discarded already.")
    if at is None:
        raise problems.Invalid.at("/at", "It cannot be discarded before it was there.")
    row.discarded_at, row.discarded_because = at, data.get("reason") or ""
    row.save(update_fields=["discarded_at", "discarded_because"])
    add_container(draft.kept, kept_container(row))
    draft.event = events.ContainerDiscarded(
        container=row.uid, shown=shown(kept_container(row), draft.rules), reason=row.discarded_because
    )
    return row
