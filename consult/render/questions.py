"""Questions and instructions in words: the panels of board and case, lines of timeline and handover."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from consult.render import held_against
from consult.render.words import value_text
from dosing.ground.language import gettext as _

Told = Mapping[str, Any]

TOPICS = {
    "advice": _("Advice"),
    "destination": _("Destination"),
    "refusal": _("Refusal of care"),
    "end_resuscitation": _("End of resuscitation"),
    "other": _("Question"),
}
# What a decision is about, in whole: "not agreed" beside what is to be done instead would be read as its denial.
DECIDED = {
    ("refusal", "agreed"): _("Refusal stands"),
    ("refusal", "not_agreed"): _("Refusal does not stand"),
    ("end_resuscitation", "agreed"): _("Resuscitation may end"),
    ("end_resuscitation", "not_agreed"): _("Resuscitation goes on"),
}
AGREES = {
    "refusal": (_("Agree: the refusal stands"), _("Do not agree: the refusal does not stand")),
    "end_resuscitation": (_("Agree: resuscitation may end"), _("Do not agree: resuscitation goes on")),
}
CAPACITY = {"yes": _("yes"), "no": _("no"), "unsure": _("not sure")}
NUMBER = re.compile(r"\+?\d[\d ()./-]{1,30}")


def questions(card: Told) -> list[dict[str, Any]]:
    """The questions that wait, the longest waiting on top."""
    return [
        {**question(each), "record": held_against.record(card, each), "cautions": held_against.cautions(card, each)}
        for each in card.get("questions") or ()
    ]


def question(told: Told) -> dict[str, Any]:
    """A question with its form and the criteria in words; `guided` where it is answered by a decision."""
    return {
        **told,
        "title": TOPICS[told["topic"]],
        "lead": lead(told),
        "guided": bool(told.get("form")),
        "agrees": AGREES.get(told["topic"], ()),
        "stated": form_lines(told),
        "rules": rules_met(told),
    }


def form_lines(told: Told) -> list[tuple[str, str]]:
    """What the form states, as names and values; what was not told says so."""
    form = told.get("form") or {}
    if told["topic"] == "refusal":
        return [
            (_("Refuses"), form["who_refuses"]),
            (_("Capacity to decide"), CAPACITY[form["capacity"]]),
            (_("Risks explained"), _("yes") if form["risks_told"] else _("no")),
            (_("Witness"), form.get("witness") or _("none named")),
        ]
    if told["topic"] == "end_resuscitation":
        etco2 = f"{value_text(form['etco2'])} mmHg" if form.get("etco2") is not None else _("not told")
        return [
            (_("Resuscitation so far"), f"{value_text(form['minutes'])} min"),
            (_("Rhythm"), form["rhythm"]),
            (_("EtCO2"), etco2),
        ]
    return []


def rules_met(told: Told) -> list[dict[str, Any]]:
    """Each published rule with how many of its criteria are met: counted, never judged."""
    criteria = told.get("criteria") or ()
    names = dict.fromkeys(name for each in criteria for name in each["rules"])
    found = {name: [each["met"] for each in criteria if name in each["rules"]] for name in names}
    return [{"name": name, "met": sum(met), "of": len(met)} for name, met in found.items()]


def form_text(told: Told) -> str:
    """The form on one line: ``Refuses: patient; capacity to decide: yes; …; criteria met: …``."""
    lines = [f"{name}: {value}" for name, value in form_lines(told)]
    if told["topic"] == "end_resuscitation":
        met = ", ".join(each["text"] for each in told.get("criteria") or () if each["met"])
        lines += [_("Criteria met: {met}", met=met or _("none"))]
        lines += [
            _("{name} rule: {met} of {of}", name=each["name"], met=each["met"], of=each["of"])
            for each in rules_met(told)
        ]
    return "; ".join(lines)


def lead(told: Told) -> str:
    """What a question is, in a word or two: ``Refusal of care``, ``Question: advice``, ``Question``."""
    title = TOPICS[told["topic"]]
    return title if told.get("form") or told["topic"] == "other" else _("Question: {title}", title=title.lower())


def destination(card: Told, side: str) -> dict[str, str] | None:
    """The new destination that this side must see, with what a press of `Seen` sends; None where there is none."""
    told = card.get("destination_told")
    if not told or told["side"] == side:
        return None
    return {
        **told,
        "destination": told["destination"] or _("none"),
        "before": told["before"] or _("none"),
        "sends": json.dumps({"destination_seen": told["destination"]}),
    }


def dialed(call: str) -> str:
    """What a phone dials where the text is a number; empty for a channel by its name."""
    return re.sub(r"[^\d+]", "", call) if NUMBER.fullmatch(call) else ""


def decided(told: Told) -> str:
    """What was decided by the answer to a guided question; empty for any other instruction."""
    return DECIDED.get((told.get("topic") or "", told.get("decision") or ""), "")


def asked_text(told: Told) -> str:
    """A question on a line: its topic, its words, its form."""
    return " · ".join(filter(None, [f"“{told['text']}”", form_text(told) if told.get("form") else ""]))


def instructed_text(told: Told) -> str:
    """An instruction on a line: the decision where there is one, its words, what it answers."""
    about = _("in answer to “{asked}”", asked=told["asked"]) if told.get("asked") else ""
    return " · ".join(filter(None, [decided(told), f"“{told['text']}”", about]))


STEPS = {
    "asked": _("not seen yet, asked"),
    "seen": _("not answered yet, seen"),
    "answered": _("answered"),
    "given": _("not confirmed yet, told"),
    "understood": _("understood"),
    "done": _("done"),
    "unable": _("not possible"),
    "withdrawn": _("withdrawn"),
}


def lines(asked: Iterable[Told], told: Iterable[Told]) -> list[dict[str, Any]]:
    """Questions and instructions together, by when they were put, each question with its answer."""
    answers = {each["question"]: each for each in told if each.get("question")}
    put = [{**each, "at": each["asked_at"], "answer": answers.get(each["id"])} for each in asked]
    unasked = [{**each, "at": each["given_at"], "topic": None} for each in told if not each.get("question")]
    return sorted([*put, *unasked], key=lambda each: str(each["at"]))
