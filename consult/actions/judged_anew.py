"""What a late entry, or one taken back, changes about the doses given after it.

Their stored checks stay as they were made; a new journal line tells the new one, the card goes by it, and a dose that
lies outside limits only now raises its alarm. Told is only what the entry itself changed: a weight or a rule that is
another one since then says nothing about a dose of before.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from itertools import takewhile
from typing import Any

import msgspec

from consult import events, problems
from consult.actions import order_book
from consult.actions.entry import Draft
from consult.actions.proposals import checked, proposal_of
from consult.card.facts import add_dose
from consult.card.then import facts_then
from consult.clock import when
from consult.models import Intervention
from dosing.facts import Facts, Weight
from dosing.findings import BEYOND, LEVELS

Findings = dict[str, dict[str, Any]]


@contextmanager
def after(draft: Draft, at: datetime, *, taken_back: bool = False) -> Iterator[None]:
    """Judge anew what this crew gave after `at`, once the block has changed what is known of the time before.

    What is `taken_back` also ends the alarm of a dose that is outside limits no more.
    """
    later = _given_after(draft, at)
    before = {row.pk: _findings(draft, row) for row in later}
    yield
    for row in later:
        _tell(draft, row, before[row.pk], _findings(draft, row), taken_back=taken_back)


def _given_after(draft: Draft, at: datetime) -> list[Intervention]:
    """This crew's doses after a moment, oldest first; nothing is looked up where the kept facts know of none."""
    later = takewhile(lambda dose: when(dose["given_at"]) > at, reversed(draft.kept["doses"]))
    mine = [each["id"] for each in later if not (each["in_error"] or each["prior"])]
    if not mine:
        return []
    rows = Intervention.objects.filter(case=draft.case, uid__in=mine, treatment__in=list(draft.rules.treatments))
    return list(rows.select_related("order__case").order_by("given_at", "seq"))


def _findings(draft: Draft, row: Intervention) -> Findings:
    """What the rules find in a dose by what is known now of the time up to it, by code.

    Nothing where another patient or rule set since then makes its unit one that they cannot judge.
    """
    try:
        proposal = proposal_of(row.data, row.given_at)
        check = checked(proposal, _without(draft, row), draft.rules, order_book.as_counted(row))
    except problems.Invalid:
        return {}
    return {finding["code"]: finding for finding in check["findings"]}


def _without(draft: Draft, row: Intervention) -> Facts:
    """The facts at the time of a dose without itself, with the weight by which it was judged."""
    facts, weight = facts_then(draft.case, draft.kept, row.given_at), row.verdict.get("weight_used")
    patient = replace(facts.patient, weight=msgspec.convert(weight, Weight)) if weight else facts.patient
    return replace(facts, patient=patient, doses=tuple(dose for dose in facts.doses if dose.id != str(row.uid)))


def _tell(draft: Draft, row: Intervention, before: Findings, now: Findings, *, taken_back: bool) -> None:
    """Write down the new check where it is another one, show it on the card, and raise or end the dose's alarm."""
    gone = before.keys() - now.keys()
    news = {code: finding for code, finding in now.items() if _says_more(finding, before.get(code))}
    dose = next(each for each in draft.kept["doses"] if each["id"] == str(row.uid))
    if dose["in_error"] or not (gone or news):
        return
    known = row.judged_anew or row.verdict
    row.judged_anew = check = _renewed(known, gone, news)
    row.save(update_fields=["judged_anew"])
    if len(dose["rates"]) < 2:  # of an infusion the newest rate's check stands on the card
        add_dose(draft.kept, {**dose, "verdict": check["verdict"]})
    draft.followed.append(
        events.InterventionJudgedAnew(intervention=row.uid, because=draft.uid or "", shown=dose["shown"], check=check)
    )
    if any(each["level"] in BEYOND and code not in _beyond(known) for code, each in news.items()):
        draft.flag(dose, check, row.given_at)
    elif taken_back and not _beyond(check):
        draft.ended.append(("dose_outside_limits", dose["id"], "an entry that counted against it was corrected"))


def _says_more(finding: dict[str, Any], before: dict[str, Any] | None) -> bool:
    """Whether a finding is new, of another level, or, beyond limits, in other words."""
    if before is None or finding["level"] != before["level"]:
        return True
    return finding["level"] in BEYOND and finding["text"] != before["text"]


def _renewed(check: dict[str, Any], gone: set[str], news: Findings) -> dict[str, Any]:
    """The check with what has gone taken out and what is new put in, worst first."""
    stay = [each for each in check["findings"] if each["code"] not in gone | news.keys()]
    found = sorted([*stay, *news.values()], key=lambda each: -LEVELS.index(each["level"]))
    return {**check, "findings": found, "verdict": found[0]["level"] if found else LEVELS[0]}


def _beyond(check: dict[str, Any]) -> set[str]:
    return {each["code"] for each in check["findings"] if each["level"] in BEYOND}
