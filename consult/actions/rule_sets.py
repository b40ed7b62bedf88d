"""Rule sets adopted by agencies: kept by their digest with the file's text, so that a check can be understood later."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction
from msgspec import Struct

from consult import access, events, problems, queries
from consult.access import Actor
from consult.actions.carry_out import Write, carry_out, load
from consult.actions.entry import asked_of, author
from consult.case.decide.asked import Decided
from consult.case.decide.cases import aimed_so_far
from consult.journal.append import Line, append
from consult.models import Agency, Case, Membership, RuleSetRecord
from consult.models.rules import is_demonstration
from consult.state.parts import RulesInForce
from dosing.ground.language import gettext as _
from dosing.load import reader
from dosing.rules.rule_set import RuleSet


def shipped(name: str) -> RuleSetRecord:
    """The record of a rule set that ships with the project, made if it is not there yet; approved by nobody."""
    rules = reader.load_shipped(name)
    known = {"name": rules.name, "version": rules.version, "content": rules.text}
    record, _ = RuleSetRecord.objects.get_or_create(digest=rules.digest, approved_at=None, defaults=known)
    return record


def namesake(agency: Agency, rules: RuleSet) -> str:
    """Why this name and version may not be used, in words; empty where nothing speaks against them.

    People tell rule sets apart by name and version, only programs by the digest: so the agency must not have used them
    for another content, and the demonstration's name, which says that nobody approved it, is its own.
    """
    if is_demonstration(rules.name) and rules.digest != reader.load_shipped("demonstration").digest:
        return _(
            "{name} is the name of the rules that ship with the board, which nobody approves. "
            "Give a changed set a name of its own.",
            name=rules.name,
        )
    used = [*queries.labels_used(agency.pk), *([queries.label_of(agency.rule_set)] if agency.rule_set else [])]
    alike = (each for each in used if (each["name"], each["version"]) == (rules.name, rules.version))
    if all(each["digest"] == rules.digest for each in alike):
        return ""
    return _(
        "{rules} {version} was in force here with different content. Give this one a new version.",
        rules=rules.name,
        version=rules.version,
    )


def held(agency: UUID) -> Agency:
    """The agency with its rule set, locked: nobody puts another in force before this transaction ends."""
    agencies = Agency.objects.select_for_update(no_key=True, of=("self",)).select_related("rule_set")
    return agencies.get(pk=agency)


def adopt(
    actor: Actor,
    rules: RuleSet,
    now: datetime,
    *,
    reason: str,
    by_way_of: str,
    numbers: Iterable[events.ChangedNumber] = (),
) -> RuleSetRecord:
    """Put a rule set in force for the director's agency: new cases and those that are open are judged by it from now.

    All of it is one transaction, so that no case is judged by the old set after the agency's journal names the new one.
    """
    access.require_director(actor)
    with transaction.atomic():
        agency = held(actor.agency)
        before = agency.rule_set
        _refuse_to_adopt(agency, rules)
        record = RuleSetRecord.objects.create(
            digest=rules.digest,
            name=rules.name,
            version=rules.version,
            content=rules.text,
            approved_by_id=actor.membership,
            approved_at=now,
        )
        agency.rule_set = record
        moved = [_move(case, record, rules, actor, now) for case in _open(agency)]
        event = events.RuleSetAdopted(
            rule_set=rules.label,
            replaced=queries.label_of(before) if before else None,
            reason=reason,
            by_way_of=by_way_of,
            open_cases=len(moved),
            numbers=list(numbers),
        )
        append(agency, [Line(event, now, {}, by=author(actor))], now)
        agency.save(update_fields=["rule_set", "seq", "head"])
        Membership.objects.filter(pk=actor.membership).update(rules_seen=record)  # who changes them knows
    return record


def _refuse_to_adopt(agency: Agency, rules: RuleSet) -> None:
    """Refuse what is in force already, and a name and version that stood for other content."""
    before = agency.rule_set
    if before and before.approved_at and before.digest == rules.digest:
        raise problems.WrongState(
            _(
                "{rules} {version} is already in force, with exactly this content.",
                rules=rules.name,
                version=rules.version,
            )
        )
    if refused := namesake(agency, rules):
        raise problems.WrongState(refused)


def read_changes(actor: Actor, digest: str) -> None:
    """This person has read what the rule set of this digest changed; one that is in force no longer tells nothing."""
    in_force = RuleSetRecord.objects.filter(agencies=actor.agency, digest=digest).first()
    if in_force is not None:
        Membership.objects.filter(pk=actor.membership).update(rules_seen=in_force)


def _open(agency: Agency) -> list[Case]:
    cases = Case.objects.filter(agency=agency, state=Case.State.OPEN)
    return list(cases.select_for_update(of=("self",)).order_by("pk"))


def _move(case: Case, record: RuleSetRecord, rules: RuleSet, actor: Actor, now: datetime) -> Case:
    known = load(case)
    state = known.state
    event = events.CaseRulesChanged(
        rule_set=rules.label,
        replaced=_label(state.rule_set),
        judged=judged_by(record, rules),
        aimed=aimed_so_far(known, state.patient, state.impression, rules),
    )
    carry_out(Write(case, state, now, asked_of(actor, {}, None, now, Adopted)), Decided([event]), Case)
    return case


class Adopted(Struct, frozen=True):
    """The adoption of a rule set says nothing to a case but which."""


def _label(known: RulesInForce) -> dict[str, str]:
    return {"name": known.name, "version": known.version, "digest": known.digest}


def judged_by(record: RuleSetRecord, rules: RuleSet) -> events.Judged:
    """The rule set by which a case is judged from here on."""
    return events.Judged(record=str(record.pk), rule_set=RulesInForce(**rules.label, approved=record.approved))
