"""A treatment as facts and card hold it: made of its entry, moved on by each change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from msgspec.structs import replace

from consult.case import lost_line
from consult.case.entries import ChangeEntry, DoseEntry, OrderEntry, Proposed
from consult.state.check import Check
from consult.state.parts import Given, Order
from dosing.check.infusion import last_set
from dosing.ground import text
from dosing.ground.containers import newest_in_hand
from dosing.ground.facts import Amount, Facts, Proposal, Rate
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet
from dosing.rules.treatment import for_what
from dosing.tell import titration

OTHER = "other"
ENDS = ("finished", "stopped")  # of what runs
Ask = TypeVar("Ask", bound=Proposed)


@dataclass(frozen=True)
class Unlike:
    """What was ordered, where a dose is more, or a rate less."""

    ordered: Amount
    more: bool


def proposal_of(entry: Proposed, at: datetime, *, new_rate: bool = False) -> Proposal:
    """The proposal that an entry holds, for the time `at`; the entry has an amount; `new_rate` of what runs."""
    return Proposal(
        treatment=entry.treatment,
        amount=entry.amount or Amount(0, ""),
        route=entry.route or "",
        at=at,
        stock=entry.stock,
        concentration=entry.concentration,
        over_min=entry.over_min,
        gauge=entry.gauge,
        product=entry.product,
        container=str(entry.container) if entry.container else None,
        access=str(entry.access) if entry.access else None,
        indication=entry.indication,
        new_rate=new_rate,
    )


def from_bag_in_hand(entry: Ask, facts: Facts, at: datetime, rules: RuleSet) -> Ask:
    """The entry with the strength of the newest bag in hand, of an infusion that states none: its mL/h are of that."""
    treatment = rules.treatments.get(entry.treatment)
    if treatment is None or treatment.form != "infusion" or entry.concentration is not None:
        return entry
    newest = newest_in_hand(facts.containers, entry.treatment, at)
    return replace(entry, concentration=newest.strength) if newest else entry


def recorded(
    entry: DoseEntry, dose_id: str, seq: int, check: Check, rules: RuleSet, by: str, unlike: Unlike | None
) -> Given:
    """What was given or started, as it was told; `by` is who wrote it down, `unlike` an order not followed."""
    return Given(
        id=dose_id,
        seq=seq,
        treatment=entry.treatment,
        title=title_of(entry, rules),
        shown=shown(entry, rules, check, unlike),
        amount=entry.amount,
        route=entry.route or "",
        given_at=entry.given_at,
        status=entry.status,
        concentration=entry.concentration,
        over_min=entry.over_min,
        order=str(entry.order) if entry.order else None,
        prior=entry.prior,
        prior_by=entry.prior_by,
        name=entry.name if entry.treatment == OTHER else None,
        amount_text=entry.amount_text,
        verdict=check.verdict,
        by=entry.given_by or by,
        stock=entry.stock,
        product=entry.product,
        container=str(entry.container) if entry.container else None,
        weight=check.weight_used,
        rates=_first_rate(entry, check),
        rate_unit=check.give.dose.unit if told_by_pump(entry) and check.give and check.give.dose else None,
        indication=entry.indication,
        not_as_ordered=unlike.ordered if unlike else None,
    )


def _first_rate(entry: DoseEntry, check: Check) -> tuple[Rate, ...]:
    """The first rate of what runs at one, with the weight by which it was judged."""
    if entry.status != "running" or entry.amount is None or "/" not in entry.amount.unit:
        return ()
    return (Rate(entry.given_at, entry.amount, check.weight_used),)


def changed(
    dose: Given, change: ChangeEntry, at: datetime, check: Check | None, told: str, unlike: Unlike | None
) -> tuple[Given, Rate | None]:
    """The dose after a new rate, `told` in words, a pause or its end, or its own; and its rate from then on.

    What is told late leaves in force what was set after it. What is held runs again by a new rate, too.
    """
    dose = replace(dose, lost_line=lost_line.told(change.reason, at) or dose.lost_line)
    if change.status in ENDS:
        return replace(dose, status=change.status, ended_at=at, infused=change.infused, reason=change.reason), None
    rate, hangs = _rate(dose, change, at, check), change.concentration or dose.concentration
    before = from_former_bag(dose.rates, dose.concentration) if hangs != dose.concentration else dose.rates
    rates = tuple(sorted((*before, rate), key=lambda each: each.at)) if rate else ()
    if rates and rates[-1] is not rate:
        return replace(dose, rates=rates), rate
    status, reason = change.status or "running", change.reason
    if not dose.goes_on:
        status, reason = dose.status, dose.reason
    now = replace(dose, rates=rates, changed_at=at, status=status, reason=reason, concentration=hangs)
    if change.amount is None or check is None:
        return now, rate
    lie_beyond = {each.code for each in check.beyond}
    known_since = tuple(each for each in dose.known_since if each.code in lie_beyond)
    now = replace(now, amount=change.amount, verdict=check.verdict, shown=told, known_since=known_since)
    return replace(now, not_as_ordered=unlike.ordered if unlike else None), rate


def from_former_bag(rates: tuple[Rate, ...], concentration: Amount | None) -> tuple[Rate, ...]:
    """The rates so far, each with the strength of the bag it ran from, for another one hangs from now on."""
    return tuple(each if each.concentration else replace(each, concentration=concentration) for each in rates)


def _rate(dose: Given, change: ChangeEntry, at: datetime, check: Check | None) -> Rate | None:
    """The rate from then on: the one stated, none while held, the one before again; None where it never had one."""
    if change.amount is not None and check is not None:
        return Rate(at, change.amount, check.weight_used)
    ran = last_set(dose)
    if ran is None:
        return None
    return replace(ran, at=at) if change.status == "running" else Rate(at, None)


def title_of(entry: Proposed | Order, rules: RuleSet) -> str:
    """What a treatment is called."""
    known = rules.treatments.get(entry.treatment)
    return known.title if known else entry.name or entry.treatment


def _for_what(entry: Proposed | Order, rules: RuleSet) -> str:
    """`` for a seizure``, where the treatment has more than one indication; else ""."""
    if entry.treatment not in rules.treatments:
        return ""
    told = for_what(rules.treatment(entry.treatment, entry.indication))
    return _(" for {told}", told=told) if told else ""


def told_by_pump(entry: Proposed | Order) -> bool:
    """Whether it is told by the pump's rate, and so says nothing of the dose by itself."""
    return entry.amount is not None and entry.amount.unit.startswith("mL/")


def shown(entry: Proposed | Order, rules: RuleSet, check: Check | None = None, unlike: Unlike | None = None) -> str:
    """A dose on one line: "Tranexamic acid 1 g IV over 10 min"; by its `check` also the dose rate of a pump's rate."""
    title = text.drug_text(title_of(entry, rules), rules.tall_man)
    told = entry.amount_text if isinstance(entry, Proposed) else None
    how_much = text.amount_text(entry.amount) if entry.amount else told or ""
    how_much += (
        _(" of {concentration}", concentration=text.amount_text(entry.concentration)) if entry.concentration else ""
    )
    if check and check.give and told_by_pump(entry):
        how_much = check.give.shown
    line = " ".join(part for part in (title, how_much, text.route_text(entry.route or "")) if part)
    line += text.over_text(entry.over_min) + _for_what(entry, rules)
    line += _(", entered as “{entry}”", entry=entry.name) if entry.name and entry.treatment != OTHER else ""
    if isinstance(entry, OrderEntry) and entry.titrate:
        line += f", {titration.told(entry.titrate)}"
    if unlike is None:
        return line
    ordered = text.amount_text(unlike.ordered)
    if unlike.more:
        return _("{line}, more than ordered: {ordered}", line=line, ordered=ordered)
    return _("{line}, not as ordered: {ordered}", line=line, ordered=ordered)
