"""Facts and card made anew from the rows: for corrections, for `rebuild_cards`, and as the proof of the folding."""

from __future__ import annotations

from typing import Any

import msgspec

from consult import queries
from consult.card import doses
from consult.card.build import Card, build
from consult.card.facts import (
    Kept,
    access_dict,
    add_container,
    add_reading,
    by_due,
    clinical,
    empty,
    kept_container,
    kept_reading,
    load,
)
from consult.models import Alert, Case, Container, Order, Procedure, Reassessment, Vitals
from consult.resources import alert_dict, name_of, order_dict, reassessment_dict


def readings(case: Case) -> Kept:
    """The measurements of a case, folded in the order in which they came, without those entered in error."""
    kept = empty()
    for row in Vitals.objects.filter(case=case, in_error=False).order_by("seq").iterator(chunk_size=1000):
        add_reading(kept, kept_reading(row))
    return {name: kept[name] for name in ("readings", "latest", "pressure", "oxygen")}


def containers(case: Case) -> list[Kept]:
    """What was mixed, hung or opened in a case, in the order in which it was."""
    kept = empty()
    for row in Container.objects.filter(case=case).order_by("seq"):
        add_container(kept, kept_container(row))
    found: list[Kept] = kept["containers"]
    return found


def names(case: Case) -> Kept:
    """The unit that has the patient, the physician in control, the rules by which the case is judged."""
    physician, record = case.physician, case.rule_set
    return {
        "unit": {"id": str(case.unit_id), "call_sign": case.unit.call_sign},
        "physician": {"id": str(physician.pk), "name": name_of(physician)} if physician else None,
        "rule_set": {**queries.rules_of(case).label, "approved": record.approved_at is not None},
    }


def facts(case: Case) -> Kept:
    """All kept facts from the rows alone: nothing of the kept ones is taken over."""
    waiting = Reassessment.objects.filter(case=case).exclude(state=Reassessment.State.DONE)
    unfinished = Order.objects.filter(case=case).exclude(state__in=Order.FINISHED).select_related("case")
    ways_in = Procedure.objects.filter(case=case, in_error=False).order_by("seq")
    standing = Alert.objects.filter(case=case, cleared_at=None).select_related("case", "acknowledged_by__user")
    return {
        **empty(),
        **readings(case),
        **names(case),
        "doses": doses.rebuilt(case),
        "containers": containers(case),
        "reassessments": sorted(
            (reassessment_dict(row, str(row.intervention.uid)) for row in waiting.select_related("intervention")),
            key=by_due,
        ),
        "orders": _sorted([order_dict(row) for row in unfinished], "requested_at"),
        "access": [access_dict(row) for row in ways_in if row.data["procedure"] in ("iv_access", "io_access")],
        "alerts": [alert_dict(row) for row in standing.order_by("id")],
    }


def _sorted(items: list[dict[str, Any]], key: str) -> list[dict[str, Any]]:
    return sorted(items, key=lambda each: str(each[key]))


def differs(case: Case) -> bool:
    """Whether what is stored, facts or card, is other than what is made anew."""
    anew = facts(case)
    made = build(case, anew, clinical(case, anew), queries.rules_of(case))
    stored: Card = msgspec.json.decode(case.card)
    return stored != _as_stored(made) or _without_sums(load(case)) != _without_sums(_as_stored(anew))


def _as_stored(value: Kept) -> Kept:
    plain: Kept = msgspec.json.decode(msgspec.json.encode(value))
    return plain


def _without_sums(kept: Kept) -> Kept:
    """What is only kept to be reckoned once says nothing of its own."""
    return {**kept, "sums": {}}
