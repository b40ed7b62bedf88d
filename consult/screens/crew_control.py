"""What a crew is told of its physicians: control given up, or passed to another one, and a new goal."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.urls import reverse

from consult import queries
from consult.access import Actor
from consult.clock import stamp, when
from consult.models import Case
from consult.render import words
from consult.render.running import goal_words
from dosing.ground.language import gettext as _
from dosing.ground.text import number_text

GIVEN_UP, TAKEN = KINDS = ("case.released", "case.accepted")


def news(cases: Collection[Case], actor: Actor, since: datetime) -> list[dict[str, Any]]:
    """Of each open case the newest change of control since then; that the first physician takes it is none."""
    open_now = [case for case in cases if case.state == Case.State.OPEN]
    spans = {str(case.uid): (max(0, case.seq - queries.PAGE), None) for case in open_now}
    named = [{"pk": case.pk, "uid": case.uid} for case in open_now]
    lines = queries.lines_between(named, spans, KINDS, but_by=actor.membership)
    found = [(case, [each for each in lines if each["case"] == case.pk]) for case in open_now]
    told = [(case, each) for case, each in found if each and each[-1]["received_at"] >= since]
    return [_item(case, each) for case, each in told if _has_passed(each)]


def _has_passed(told: list[dict[str, Any]]) -> bool:
    """Whether somebody had control before the newest change."""
    newest, before = told[-1], [each["data"]["physician"] for each in told[:-1]]
    kept = newest["kind"] == TAKEN and before[-1:] == [newest["data"]["physician"]] and told[-2]["kind"] == TAKEN
    return not kept and (newest["kind"] == GIVEN_UP or bool(newest["data"]["taken_from"]) or bool(before))


def _item(case: Case, told: list[dict[str, Any]]) -> dict[str, Any]:
    newest = told[-1]
    physician, before = newest["data"]["physician"], newest["data"].get("taken_from")
    given_up = newest["kind"] == GIVEN_UP
    why = newest["data"].get("reason", "") if given_up else _("before: {before}", before=before) if before else ""
    return {
        "key": f"{case.uid}-control-{newest['seq']}",
        "ends": False,
        "over": False,
        "lead": _("NO PHYSICIAN:") if given_up else _("CONTROL PASSED:"),
        "order": None,
        "what": _("{physician} gave up control: the other physicians are asked", physician=physician)
        if given_up
        else _("{physician} has control now", physician=physician),
        "who": words.who_text(words.person(case.patient)),
        "why": why,
        "blind": {},
        "noted": _("Noted, stay here"),
        "go": _("Open the case"),
        "href": reverse("crew-case", args=[case.uid]),
        "at": stamp(newest["at"]),
    }


def goals(cases: Collection[Case], since: datetime) -> list[dict[str, Any]]:
    """Of each open case the goal that a physician has set since then."""
    known = [(case, queries.card(case)["goal"]) for case in cases if case.state == Case.State.OPEN]
    return [_goal(case, goal) for case, goal in known if goal["since"] and when(goal["since"]) >= since]


def _goal(case: Case, goal: dict[str, Any]) -> dict[str, Any]:
    return {
        "key": f"{case.uid}-goal-{goal['since']}",
        "ends": False,
        "over": False,
        "lead": _("NEW GOAL:"),
        "order": None,
        "what": goal_words(goal) + (f"–{number_text(goal['ceiling'])}" if goal["ceiling"] else ""),
        "who": words.who_text(words.person(case.patient)),
        "why": goal["because"],
        "blind": {},
        "noted": _("Noted, stay here"),
        "go": _("Open the case"),
        "href": reverse("crew-case", args=[case.uid]),
        "at": goal["since"],
    }
