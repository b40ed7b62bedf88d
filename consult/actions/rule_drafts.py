"""What a medical director is about to change in the rule set in force: gathered, dropped, adopted together."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import msgspec
from django.db import transaction

from consult import access, events
from consult.access import Actor
from consult.actions import rule_sets
from consult.models import RuleSetDraft, RuleSetRecord
from dosing.rules.amended import Amendment
from dosing.rules.rule_set import RuleSet


def gathered(actor: Actor) -> list[Amendment]:
    """The changes that this director has gathered, in the order in which they were made."""
    draft = RuleSetDraft.objects.filter(by=actor.membership).first()
    return [Amendment(**{**change, "numbers": _pairs(change["numbers"])}) for change in draft.changes] if draft else []


def _pairs(numbers: dict[str, list[str]]) -> dict[str, tuple[str, str]]:
    return {key: (value, unit) for key, (value, unit) in numbers.items()}


def gather(actor: Actor, change: Amendment) -> None:
    """Put a change into the draft; of one entry the newest change counts."""
    access.require_director(actor)
    with transaction.atomic():
        _keep(actor, [*(each for each in _held(actor) if each.entry != change.entry), change])


def drop(actor: Actor, entry: str = "") -> None:
    """Take the change of this entry out of the draft; all of them where no entry is named."""
    access.require_director(actor)
    with transaction.atomic():
        _keep(actor, [each for each in _held(actor) if entry and each.entry != entry])


def adopt(
    actor: Actor, rules: RuleSet, now: datetime, *, reason: str, numbers: Iterable[events.ChangedNumber]
) -> RuleSetRecord:
    """Put the set that the draft makes in force, and empty the draft: each number with its reason in the journal."""
    with transaction.atomic():
        record = rule_sets.adopt(actor, rules, now, reason=reason, by_way_of="page", numbers=numbers)
        drop(actor)
    return record


def _held(actor: Actor) -> list[Amendment]:
    """The draft, held so that two pages of one director do not write over each other."""
    RuleSetDraft.objects.get_or_create(by_id=actor.membership)
    RuleSetDraft.objects.select_for_update().get(by=actor.membership)
    return gathered(actor)


def _keep(actor: Actor, changes: list[Amendment]) -> None:
    plain = msgspec.to_builtins(changes)
    RuleSetDraft.objects.filter(by=actor.membership).update(changes=plain)
