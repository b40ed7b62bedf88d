"""What every page of one case shows a crew: the patient, the last pressure, what is due, what waits for the crew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from consult import access, queries, zone
from consult.access import Actor
from consult.actions import demonstration
from consult.clock import stamp, when
from consult.models import Case
from consult.render import alarms, running, treatments, vitals, words
from consult.render.arrest import apart_words
from consult.render.order_story import stage
from consult.screens import crew_told
from consult.screens.crew_made_for import made_for
from consult.screens.crew_order_row import order_row
from dosing.ground.language import gettext as _
from dosing.ground.phases import ARREST
from dosing.patient import goals, reassess
from dosing.patient.reassess import JUST_AFTER
from dosing.tell.procedures import Usual, usual_settings

Card = Mapping[str, Any]

SHORT_LEAD = 4  # characters of a pressure that fit in the largest size
NEEDS_CREW = ("approved", "read_back")


def case_facts(actor: Actor, case_id: UUID, now: datetime) -> tuple[Case, dict[str, Any]]:
    """The case and what its frame shows; raises ``NotFound`` for another unit's."""
    access.require_crew(actor)
    case = access.case_for(actor, case_id)
    taken_over = demonstration.taken_over(actor, case, now)
    card = queries.card(case)
    known, made = state(card, now), made_for(card)
    return case, {
        "case_id": str(case.uid),
        "card": card,
        "taken_over": taken_over,
        "case_ended": case_ended(case),
        **frame(card),
        "arrest_since": card["phase_since"] if card["phase"] == ARREST else None,
        **known,
        "made_for": made,
        "page_told": {**page_told(case, card, known["waits"]), "made_for": made},
        **({} if case.ended_at is None else {"dues": []}),
    }


def frame(card: Card) -> dict[str, Any]:
    """Call sign and patient, as they stand on every page and every button."""
    person = words.person(card["patient"])
    return {
        "call_sign": card["unit"]["call_sign"],
        "person": person,
        "who": words.who_text(person),
        "allergies": words.allergies_text(card["patient"]),
    }


def case_ended(case: Case) -> dict[str, Any] | None:
    """How and when the case ended, to stand above all that its pages show; None while it is open."""
    if case.ended_at is None:
        return None
    how = _("handed over") if case.state == Case.State.HANDED_OVER else _("closed")
    because = f": {words.plain(case.outcome)}" if case.outcome and how == "closed" else ""
    return {"at": case.ended_at, "how": how, "because": because}


def state(card: Card, now: datetime) -> dict[str, Any]:
    """Last pressure, reassessments due, open alerts, and how many orders wait for the crew."""
    orders = [order_row(order, running.stepping(card, order)) for order in card.get("orders") or ()]
    alerts, waits = alarms.on_a_phone(alarms.alarms(card)), _waits(card, orders)
    return {
        "pressure": last_pressure(card, now),
        "goal_text": goal_text(card),
        "dues": dues(card, now),
        "alerts": alerts,
        "more_alerts": alarms.behind(alerts),
        "count_behind": sum(alert["folded"] for alert in alerts),
        "orders": orders,
        "told_rows": crew_told.rows(card, card["case"]),
        "waits": waits,
        "to_do": len(waits),
    }


def _waits(card: Card, orders: Sequence[Card]) -> dict[str, int]:
    """What the crew must do something with, each with how many entries do it; what is stepped up waits for its time."""
    to_do = [each for each in orders if each["question"] or (stage(each) in NEEDS_CREW and not each["stepped"])]
    doses = {each["id"]: each.get("times", 1) - each.get("given", 0) for each in to_do if stage(each) == "read_back"}
    instructions = card.get("instructions") or ()
    return {**{each["id"]: 1 for each in (*instructions, *to_do)}, **doses}


def dues(card: Card, now: datetime) -> list[dict[str, Any]]:
    """The reassessments not done, soonest first, with what each needs.

    ``overtaken``: late before its time, for another pressor was given without it. ``by``: of a rate, by when and from
    what its minutes count: each new rate, pause or pressure begins them anew. ``renewed``: by a pressure.
    """
    runs = {dose["id"]: dose for dose in card.get("running") or () if dose.get("rates")}
    return [
        {
            **due,
            "by": _due_by(due, runs[due["intervention"]], card) if due["intervention"] in runs else "",
            "renewed": _by_pressure(due, card),
            "overtaken": treatments.before_its_time(due, now),
        }
        for due in treatments.due(card)
    ]


def _due_by(due: Card, dose: Card, card: Card) -> str:
    """By when a reading is due, and what its minutes count from: the newest pressure, else what was done last."""
    measured, done = vitals.pressure(card)["taken_at"], dose["changed_at"] or dose["given_at"]
    by_pressure = _by_pressure(due, card)
    return _(
        "due by {due_at}, from {what} at {at}",
        due_at=zone.clock(when(due["due_at"])),
        what=_("the pressure") if by_pressure else _begun(dose),
        at=zone.clock(when(measured if by_pressure else done)),
    )


def _by_pressure(due: Card, card: Card) -> bool:
    """Whether it is the next one after the newest pressure: that one counted, and no reading is too early."""
    measured = vitals.pressure(card)["taken_at"]
    return bool(measured) and when(due["counts_from"]) == when(measured) + JUST_AFTER


def _begun(dose: Card) -> str:
    """What was done last with what runs, as its minutes count from it."""
    if (dose["changed_at"] or dose["given_at"]) == dose["given_at"]:
        return _("the start")
    if dose["status"] == "held":
        return _("the pause")
    return _("the restart") if running.restarted(dose) else _("the step")


def last_pressure(card: Card, now: datetime) -> dict[str, Any]:
    """The newest pressure; once it is old it is told as the last one, never as the state now; its age stands beside."""
    pressure = vitals.pressure(card)
    lead = ".".join(filter(None, [pressure["whole"], pressure["part"]]))
    old = bool(pressure["stale_at"]) and when(pressure["stale_at"]) <= now
    return {
        **pressure,
        "lead": lead,
        "low": _low(pressure, lead),
        "long": len(lead) > SHORT_LEAD,
        "state": "old" if old else pressure["state"],
        "word": pressure["old_word"] if old else pressure["word"],
    }


def _low(pressure: Mapping[str, Any], lead: str) -> str:
    """That the pressure is below the goal, for whoever is about to stop what holds it up; "" where it is not."""
    if pressure["state"] not in ("below_goal", "critical"):
        return ""
    if not pressure["is_number"]:
        return _("No pressure was obtainable")
    return _("{name} {lead} is below {goal}", name=pressure["name"], lead=lead, goal=pressure["goal"] or _("the goal"))


def goal_text(card: Card) -> str:
    """The goal before any pressure was taken."""
    goal = card.get("goal") or {}
    if not goal:
        return ""
    return f"{_('SBP goal') if goal['measure'] == 'sbp' else _('goal')} {words.value_text(goal['floor'])}"


def measured(card: Card) -> list[tuple[str, str, str, str]]:
    """The other measurements: name, value with unit, when it was taken, how a page's script finds it.

    What is from before an arrest says so.
    """
    cells = [*vitals.cells(card), *vitals.others(card)]
    return [
        (cell["name"], _value(card, cell), cell["taken_at"], cell["key"])
        for cell in cells
        if cell["value"] and cell["taken_at"]
    ]


def _value(card: Card, cell: Card) -> str:
    told = apart_words(card, cell["taken_at"]) if cell["key"] != "rhythm" else ""
    return ", ".join(filter(None, [f"{cell['value']} {cell['unit']}".strip(), told]))


def preview_limits(case: Case) -> dict[str, Any]:
    """The limits by which the page may judge a pressure while it is typed, in mmHg, for this patient now."""
    rules, facts = queries.rules_of(case), queries.facts(case)
    limits = goals.limits_for(facts.patient, goals.goal_for(facts, rules), rules)
    return {
        "adult": limits.adult,
        "map": {"floor": float(limits.map_floor), "critical": float(limits.map_critical)},
        "sbp": {"floor": float(limits.sbp_floor), "critical": float(limits.sbp_critical)},
        "usual": [float(limit) for limit in limits.usual] if limits.usual else None,
    }


def page_told(case: Case, card: Card, waits: Mapping[str, int]) -> dict[str, Any]:
    """What a page knows, as of the card's ``seq``, and by what it judges a pressure that this phone keeps.

    ``pressors`` are those that run: each asks for one pressure after the other, ``again_min`` apart. ``waits``: what
    waits for the crew, each with how many entries answer it.
    """
    rules = queries.rules_of(case)
    return {
        "seq": card["seq"],
        "phase": card["phase"],
        "taken_at": vitals.pressure(card)["taken_at"],
        "fresh_min": float(rules.pressure.stale_pressor_min),
        "again_min": float(rules.watch.pressor_again_min),
        "pressors": [dose.id for dose in queries.facts(case).doses if reassess.is_running_pressor(dose, rules)],
        "overdue": [
            {"needs": each.get("needs") or ["pressure"], "from": each["counts_from"]}
            for each in card.get("reassessments") or ()
            if each["state"] == "overdue"
        ],
        "waits": waits,
        "limits": preview_limits(case),
    }


def settings_of_devices(case: Case) -> list[Usual]:
    """The usual settings of pacing and shocks for this patient, by the rules in force."""
    return usual_settings(queries.facts(case).patient, queries.rules_of(case))


def case_line(case: Case) -> dict[str, Any]:
    """A case as the list of the unit's open cases shows it."""
    card = queries.card(case)
    raised, pressure = alarms.raised(card), vitals.pressure(card)
    to_do = sum(order["state"] in NEEDS_CREW for order in card.get("orders") or ())
    return {
        "id": case.uid,
        "who": frame(card)["who"],
        "impression": words.plain(case.impression).capitalize(),
        "complaint": case.complaint,
        "pressure": pressure["text"],
        "taken_at": pressure["taken_at"],
        "alert": raised[0] if raised else None,
        "attention": _("Order waits") if to_do else "",
        "opened_at": stamp(case.opened_at),
    }
