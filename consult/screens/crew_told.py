"""What a crew is told that is no drug: instructions with their banners, a new destination, what it asked itself."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.urls import reverse
from django.utils.text import Truncator, capfirst

from consult import queries, zone
from consult.access import Actor
from consult.clock import when
from consult.models import Case, Instruction, Question
from consult.render import questions, words
from consult.resources.questions import told_dict
from dosing.ground.language import gettext as _

STANDS = {"given": _("Say that you understood"), "understood": _("Done, or not possible?")}


def news(lately: Collection[Case], actor: Actor, since: datetime) -> list[dict[str, Any]]:
    """Of these cases the instructions that nobody has understood, those withdrawn since then, and new destinations."""
    rows = Instruction.objects.filter(case__in=lately, state__in=("given", "withdrawn")).select_related("case")
    found = [_instruction(row, told_dict(row)) for row in rows if _is_news(row, actor, since)]
    return [*found, *(item for case in lately if (item := _destination(case)))]


def _is_news(row: Instruction, actor: Actor, since: datetime) -> bool:
    if row.state == "given":
        return True
    step = row.steps[-1]
    if never_had(row.case, actor, row.steps):
        return False
    return step["by"] != actor.name and when(step["at"]) >= since


def never_had(case: Case, actor: Actor, steps: Sequence[Mapping[str, Any]]) -> bool:
    """Whether what these steps tell of ended before the patient came to this unit, and began with another one."""
    moves = [(when(each["until"]), each["id"]) for each in case.former_units]
    begun, ended = when(steps[0]["at"]), when(steps[-1]["at"])
    holder = next((unit for until, unit in moves if begun < until), str(actor.unit))
    return bool(moves) and ended <= moves[-1][0] and holder != str(actor.unit)


def _instruction(row: Instruction, told: Mapping[str, Any]) -> dict[str, Any]:
    """The banner of one instruction: it is understood by a press, also without a link."""
    ends = row.state == "withdrawn"
    entry = {"kind": "understood", "case": str(row.case.uid), "target": str(row.uid), "data": {}, "time": "at"}
    brief = Truncator(told["text"]).words(12, truncate=" …")
    says = "" if ends else json.dumps({**entry, "says": _("Understood: {text}", text=brief)})
    asked = _(" · you asked: “{asked}”", asked=told["asked"]) if told.get("asked") else ""
    return {
        "key": f"{row.uid}-{row.state}",
        "ends": ends,
        "over": row.case.state != Case.State.OPEN,
        "lead": _("WITHDRAWN, do not do:") if ends else _lead(told),
        "order": None,
        "what": told["text"],
        "who": words.who_text(words.person(row.case.patient)),
        "why": _("by {by}: {reason}", by=told["steps"][-1]["by"], reason=told["reason"])
        if ends
        else f"{told['by']}{asked}",
        "go": _("See it"),
        "href": reverse("crew-instruction", args=[row.case.uid, row.uid]),
        "noted": _("Noted, stay here") if ends else _("Understood"),
        "says": says,
        "blind": {"what": _("an instruction"), "why": "", "noted": "", "says": ""},
        "at": told["steps"][-1]["at"],
    }


def _lead(told: Mapping[str, Any]) -> str:
    """What the words are: to be done, after what was decided about what the crew had asked."""
    if decided := questions.decided(told):
        return _("{decided}. Do this:", decided=decided.upper())
    return _("ANSWER:") if told.get("question") else _("INSTRUCTION:")


def _destination(case: Case) -> dict[str, Any] | None:
    """The banner of a destination that a physician has set."""
    told = questions.destination(queries.card(case), "crew")
    if told is None:
        return None
    entry = {"kind": "patch", "case": str(case.uid), "data": json.loads(told["sends"])}
    return {
        "key": f"{case.uid}-to-{told['at']}",
        "ends": False,
        "over": False,
        "lead": _("NEW DESTINATION:"),
        "order": None,
        "what": told["destination"],
        "who": words.who_text(words.person(case.patient)),
        "why": _("{by} · before: {before}", by=told["by"], before=told["before"]),
        "go": _("See the case"),
        "href": reverse("crew-case", args=[case.uid]),
        "noted": _("Seen"),
        "says": json.dumps({**entry, "says": _("Destination seen: {destination}", destination=told["destination"])}),
        "blind": {},
        "at": told["at"],
    }


def rows(card: Mapping[str, Any], case_id: object) -> list[dict[str, Any]]:
    """What the crew is to do, then what it waits to be answered, each leading to its page."""
    told = [
        {
            "id": each["id"],
            "href": reverse("crew-instruction", args=[case_id, each["id"]]),
            "what": each["text"],
            "about": questions.decided(each) or each["by"],
            "stands": STANDS[each["state"]],
            "since": each["waiting_since"] if each["state"] == "given" else each["understood_at"],
            "to_do": True,
        }
        for each in card.get("instructions") or ()
    ]
    asked = [
        {
            "id": each["id"],
            "href": reverse("crew-question", args=[case_id, each["id"]]),
            "what": each["text"],
            "about": _("You asked: {topics}", topics=questions.TOPICS[each["topic"]].lower()),
            "stands": _("Seen, not answered yet") if each["seen_at"] else _("Not seen yet"),
            "since": each["waiting_since"],
            "to_do": False,
        }
        for each in card.get("questions") or ()
    ]
    return [*told, *asked]


def became(told: Mapping[str, Any]) -> str:
    """How a question or instruction stands, as its last step says."""
    step = told["steps"][-1]
    by = _(" by {by}", by=step["by"]) if step.get("by") else ""
    why = f": {step['reason']}" if step.get("reason") else ""
    return capfirst(f"{questions.STEPS[step['step']]}{by} {zone.clock_seconds(when(step['at']))}{why}")


def consulted(case: Case, most: int = 20) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The newest questions and instructions of a case, whatever became of them."""
    asked, told = (table.objects.filter(case=case).select_related("case") for table in (Question, Instruction))
    return tuple([told_dict(row) for row in rows.order_by("-id")[:most]] for rows in (asked, told))  # type: ignore[return-value]
