"""Past consults of the demonstration: stories told as data, played through the real actions at their own past times."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from consult import access
from consult.access import Actor
from consult.actions import (
    accounts,
    alerts,
    cases,
    corrections,
    demonstration,
    interventions,
    notes,
    orders,
    questions,
    read_back,
    vitals,
)
from consult.models import Agency, Alert, Case, User

STORIES = Path(__file__).parent / "past"
Data = dict[str, Any]

# By what is done: the action, and the name of the time in its content.
ON_CASE: dict[str, tuple[Callable[..., Any], str]] = {
    "vitals": (vitals.record_vitals, "taken_at"),
    "intervention": (interventions.record_intervention, "given_at"),
    "procedure": (notes.add_procedure, "at"),
    "note": (notes.add_note, "at"),
    "order": (orders.request_order, "at"),
    "ask": (questions.ask, "at"),
    "instruct": (questions.instruct, "at"),
    "accept": (cases.accept, ""),
    "handover": (cases.handover, "at"),
    "close": (cases.close, "at"),
    "review": (notes.add_review, ""),
}
ON_ANOTHER: dict[str, tuple[Callable[..., Any], str]] = {
    "change": (interventions.change_intervention, "at"),
    "decide": (orders.decide, ""),
    "read_back": (read_back.read_back, ""),
    "not_given": (orders.not_given, ""),
    "understood": (questions.understood, "at"),
    "done": (questions.done, "at"),
}


def play_all(now: datetime) -> int:
    """Play every story, unless the agency has cases already; how many were played."""
    agency = Agency.objects.get(name=demonstration.AGENCY)
    if Case.objects.filter(agency=agency).exists():
        return 0
    stories = [tomllib.loads(file.read_text(encoding="utf-8")) for file in sorted(STORIES.glob("*.toml"))]
    for story in stories:
        _play(Telling(agency, story, now - timedelta(hours=story["hours_ago"])))
    return len(stories)


@dataclass
class Telling:
    """One story being played: when it began, its case, and the ids of what it names."""

    agency: Agency
    story: Data
    start: datetime
    case: UUID = field(default_factory=uuid4)
    named: dict[str, UUID] = field(default_factory=dict)

    def at(self, minutes: float) -> datetime:
        """The time so many minutes into the story."""
        return self.start + timedelta(minutes=minutes)

    def actor(self, who: str) -> Actor:
        """The unit's device for ``crew``, else the person with that user name."""
        if who != "crew":
            return access.actor_for_user(User.objects.get(username=who), None, self.start)
        unit = accounts.make_unit(self.agency, self.story["unit"])
        device = accounts.make_member(self.agency, "crew", unit=unit, name=f"{unit.call_sign} tablet")
        return access.actor_for_token(accounts.issue_token(device, self.start), self.start)


def _play(telling: Telling) -> None:
    crew = telling.actor("crew")
    told = {name: telling.story[name] for name in ("complaint", "impression", "destination", "patient")}
    if "onset_min" in telling.story:
        told["patient"] = {**told["patient"], "onset_at": telling.at(-telling.story["onset_min"])}
    cases.open_case(crew, {"id": telling.case, "opened_at": telling.start, **told}, telling.start)
    actors = {"crew": crew}
    for event in telling.story["event"]:
        who = event.get("by", "crew")
        if who not in actors:
            actors[who] = telling.actor(who)
        heard = telling.at(event.get("heard", event["at"]))
        _let_time_pass(telling, heard)
        _happens(telling, actors[who], event, heard)


def _let_time_pass(telling: Telling, until: datetime) -> None:
    """Sweep at each moment at which time alone changes something, as the scheduler would have."""
    while (wake_at := Case.objects.values_list("wake_at", flat=True).get(uid=telling.case)) and wake_at < until:
        alerts.sweep(wake_at)


def _happens(telling: Telling, actor: Actor, event: Data, heard: datetime) -> None:
    """One thing that somebody did, heard of at that time."""
    content: Data = {"id": uuid4(), **event.get("say", {})}
    telling.named[event.get("name", "")] = content["id"]
    if event["do"] == "acknowledge":
        alert = Alert.objects.get(case__uid=telling.case, kind=content.pop("alert"), cleared_at=None)
        alerts.acknowledge(actor, alert.uid, content, heard)
    elif event["do"] == "correct":
        content["target"] = {"kind": content.pop("kind"), "id": telling.named[event["of"]]}
        corrections.correct(actor, telling.case, content, heard)
    else:
        _act(telling, actor, event, content, heard)


def _act(telling: Telling, actor: Actor, event: Data, content: Data, heard: datetime) -> None:
    on_case = event["do"] in ON_CASE
    action, time = (ON_CASE if on_case else ON_ANOTHER)[event["do"]]
    if time:
        content[time] = telling.at(event["at"])
    for name in ("order", "question"):
        if name in event:
            content[name] = telling.named[event[name]]
    action(actor, telling.case if on_case else telling.named[event["of"]], content, heard)
