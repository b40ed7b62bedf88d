"""A treatment as facts and card hold it: made of its row, moved on by each change; the same when it is made anew."""

from __future__ import annotations

from typing import Any

from consult import queries
from consult.card.facts import add_dose, empty
from consult.clock import stamp, when
from consult.models import Case, Intervention, InterventionChange, JournalEntry, RuleSetRecord
from dosing import text
from dosing.facts import Amount
from dosing.rule_set import RuleSet

Dose = dict[str, Any]


def recorded(row: Intervention, rules: RuleSet, by: str) -> Dose:
    """What was given or started, as it was told; `by` is who wrote it down."""
    data = row.data
    judged = row.judged_anew or row.verdict
    return {
        "id": str(row.uid),
        "seq": row.seq,
        "treatment": row.treatment,
        "title": title_of(data, rules),
        "shown": shown(data, rules),
        "amount": data.get("amount"),
        "route": data.get("route", ""),
        "given_at": stamp(row.given_at),
        "status": data.get("status") or "given",
        "ended_at": None,
        "changed_at": None,
        "infused": None,
        "concentration": data.get("concentration"),
        "over_min": data.get("over_min"),
        "order": data.get("order"),
        "prior": bool(data.get("prior")),
        "prior_by": data.get("prior_by"),
        "name": data.get("name"),
        "amount_text": data.get("amount_text"),
        "verdict": judged["verdict"],
        "by": data.get("given_by") or by,
        "stock": data.get("stock"),
        "container": data.get("container"),
        "weight": row.verdict.get("weight_used"),
        "rates": _first_rate(row),
        "in_error": row.in_error,
    }


def _first_rate(row: Intervention) -> list[Dose]:
    """The first rate of what runs at one, with the weight by which it was judged."""
    amount = row.data.get("amount")
    if row.data.get("status") != "running" or not amount or "/" not in amount["unit"]:
        return []
    return [{"at": stamp(row.given_at), "amount": amount, "weight": row.verdict.get("weight_used")}]


def changed(dose: Dose, row: Intervention, change: InterventionChange, rules: RuleSet) -> Dose:
    """The dose after a new rate or its end; a rate that is told late leaves in force the one that was set after it."""
    told, ended = change.data, change.data.get("status")
    if ended:
        dose = {**dose, "status": ended, "ended_at": stamp(change.at), "infused": told.get("infused")}
    if not told.get("amount") or change.verdict is None:
        return dose
    rate = {"at": stamp(change.at), "amount": told["amount"], "weight": change.verdict.get("weight_used")}
    rates = sorted([*dose["rates"], rate], key=lambda each: when(each["at"]))
    in_force = rates[-1]
    return {
        **dose,
        "rates": rates,
        "amount": in_force["amount"],
        "changed_at": in_force["at"],
        "verdict": change.verdict["verdict"] if in_force is rate else dose["verdict"],
        "shown": shown({**row.data, "amount": in_force["amount"]}, rules),
    }


def rebuilt(case: Case) -> list[Dose]:
    """All that was given in a case, from the rows of the doses and of their changes, by the rules of their time."""
    kept, rules_then = empty(), _rules_by_digest(case)
    wrote = JournalEntry.objects.filter(case=case, kind="intervention.recorded").values_list("seq", "by_name")
    names = dict(wrote)
    for row in Intervention.objects.filter(case=case).prefetch_related("changes").order_by("seq"):
        dose = recorded(row, rules_then(row.verdict), names.get(row.seq, ""))
        for change in sorted(row.changes.all(), key=lambda each: each.seq):
            dose = changed(dose, row, change, rules_then(change.verdict))
        add_dose(kept, dose)
    found: list[Dose] = kept["doses"]
    return found


def _rules_by_digest(case: Case) -> Any:
    """Which rules a check was made by, for their words are the dose's; the case's own where that is not known."""
    own = queries.rules_of(case)
    known: dict[str, RuleSet] = {own.digest: own}

    def rules_then(check: dict[str, Any] | None) -> RuleSet:
        digest = check["rule_set"]["digest"] if check else own.digest
        if digest not in known:
            record = RuleSetRecord.objects.filter(digest=digest).values_list("pk", flat=True).first()
            known[digest] = queries.rules_by_record(record) if record else own
        return known[digest]

    return rules_then


def title_of(data: dict[str, Any], rules: RuleSet) -> str:
    """What a treatment is called."""
    known = rules.treatments.get(data["treatment"])
    return known.title if known else data.get("name") or data["treatment"]


def shown(data: dict[str, Any], rules: RuleSet) -> str:
    """A dose on one line, such as "EPINEPHrine push dose 10 mcg IV"."""
    title = text.drug_text(title_of(data, rules), rules.tall_man)
    amount = data.get("amount")
    how_much = text.amount_text(Amount(**amount)) if amount else data.get("amount_text", "")
    strength = data.get("concentration")
    of = f" of {text.amount_text(Amount(**strength))}" if strength else ""
    return " ".join(part for part in (title, how_much + of, text.route_text(data.get("route", ""))) if part)
