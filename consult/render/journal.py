"""Journal entries as lines of a timeline: when, what in words, who; whether late, whether entered in error."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from consult import zone
from consult.chart.summary import pressure_text
from consult.clock import put_right, utc
from consult.render import questions
from consult.render.order_story import ended_as
from consult.render.orders import said
from consult.render.vitals import mean_word
from consult.render.words import DIFFERENCES, PHASES, PROCEDURES, measured_text, plain, value_text
from dosing.ground.language import gettext as _
from dosing.ground.measurements import PRESSURE

Data = Mapping[str, Any]
LEADING = ("hr", "spo2")
SECOND = ("lungs", "cap_refill_s", "avpu", "rr", "etco2")
MOST_SECOND = 3
APART = timedelta(seconds=10)  # between what happened and its receipt, from which on both times are told
NOT_SHOWN = (*PRESSURE, "source", *LEADING)
SAYS_TIMES = frozenset(  # in UTC, among words of our own
    {"alert.raised", "alert.changed", "intervention.judged_anew", "reassessment.renewed"} | {"coverage.announced"}
)
DECISIONS = {
    "approve": _("Approved"),
    "change": _("Ordered, changed"),
    "ask": _("Query sent"),
    "decline": _("Declined"),
}


def timeline(entries: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The entries newest first, by when they happened."""
    known = list(entries)
    wrong = {entry["data"]["target"]["id"]: entry for entry in known if entry["kind"] == "entry.corrected"}
    lines = [line(entry, wrong) for entry in known]
    _name_corrected(known, lines)
    return sorted(lines, key=lambda each: (each["moment"], each["seq"]), reverse=True)


def line(entry: Mapping[str, Any], wrong: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """One entry: `lead` is what it is, `text` the rest, `wrong` why it was marked entered in error."""
    words = WORDS.get(entry["kind"])
    lead, text = words(entry["data"]) if words else _other(entry)
    moment, others = happened_at(entry), further(entry)
    text, others = (text, others) if text else (", ".join(others[:1]), others[1:])
    correction = wrong.get(str(entry["data"].get("id") or ""))
    return {
        "seq": entry["seq"],
        "kind": entry["kind"],
        "group": entry["kind"].partition(".")[0],
        "moment": moment,
        "received": _moment(entry["received_at"]),
        "late": entry["late"],
        "apart": bool(entry.get("by")) and abs(_moment(entry["received_at"]) - moment) > APART,
        "lead": lead,
        "text": zone.here(text, moment) if entry["kind"] in SAYS_TIMES else text,
        "beside": others[:MOST_SECOND],
        "more": others[MOST_SECOND:],
        "by": (entry.get("by") or {}).get("name", ""),
        "wrong": correction["data"]["reason"] if correction and entry["kind"] != "entry.corrected" else "",
    }


def _name_corrected(entries: Iterable[Mapping[str, Any]], lines: Iterable[dict[str, Any]]) -> None:
    """Say of each correction what it was that was entered in error: ``EPINEPHrine push dose 20 mcg IV``."""
    known = {str(entry["data"].get("id") or ""): told for entry, told in zip(entries, lines, strict=True)}
    for entry, told in zip(entries, lines, strict=True):
        target = known.get(entry["data"]["target"]["id"]) if entry["kind"] == "entry.corrected" else None
        if target:
            what = target["text"] if target["group"] == "intervention" else f"{target['lead']} {target['text']}".strip()
            told |= {"lead": _("Entered in error"), "text": f"{what} · {told['text']}"}


def happened_at(entry: Mapping[str, Any]) -> datetime:
    """When it happened: the time as it was sent, put right by the sender's clock."""
    received_at = _moment(entry["received_at"])
    return put_right(_moment(entry["at"]), entry["data"].get("clock_offset_s"), received_at)


def _moment(value: str | datetime) -> datetime:
    return value if isinstance(value, datetime) else datetime.fromisoformat(value)


def _other(entry: Mapping[str, Any]) -> tuple[str, str]:
    return plain(str(entry.get("kind", "")).replace(".", " ")).capitalize(), ""


def _vitals(data: Data) -> tuple[str, str]:
    values, derived = data["values"], data.get("derived") or {}
    pressure = pressure_text(values.get("sbp"), values.get("dbp"))
    if values.get("bp_method") == "unobtainable":
        pressure = "unobtainable"
    texts = [f"{pressure} mmHg" if pressure and pressure != "unobtainable" else pressure]
    how = mean_word(derived, values.get("map_reported"))
    texts += [f"MAP {derived['map_shown']} {how}".strip()] if derived.get("map_shown") else []
    texts += [measured_text(name, values[name]) for name in LEADING if values.get(name) is not None]
    return (_("Pressure") if pressure else _("Vitals")), ", ".join(filter(None, texts))


def further(entry: Mapping[str, Any]) -> list[str]:
    """The values of a set of vitals beside pressure, heart rate and saturation, signs of perfusion and breath first."""
    values = entry["data"]["values"] if entry["kind"] == "vitals.recorded" else {}
    names = sorted(values, key=lambda name: SECOND.index(name) if name in SECOND else len(SECOND))
    return [measured_text(name, values[name]) for name in names if name not in NOT_SHOWN and values[name] is not None]


CHANGES = {"finished": _("Finished"), "stopped": _("Stopped"), "held": _("Held"), "running": _("Runs again")}


def _given(data: Data) -> tuple[str, str]:
    content = data["content"]
    lead = _("Started") if content.get("status") == "running" else _("Given")
    lead = _("Given before this crew") if content.get("prior") else lead
    voice = (data.get("dose") or {}).get("voice_order")
    by_voice = _(", ordered by voice by {name}", name=voice["physician"]["name"]) if voice else ""
    return lead, f"{data['shown']}{by_voice}"


def _countersigned(data: Data) -> tuple[str, str]:
    said = data["countersigned"]
    lead = _("Voice order countersigned") if said["agreed"] else _("Voice order denied")
    return lead, " · ".join(filter(None, [str(data["shown"]), f"“{said['reason']}”" if said.get("reason") else ""]))


def _given_changed(data: Data) -> tuple[str, str]:
    told = data["content"]
    return CHANGES.get(told.get("status"), _("New rate")), ": ".join(filter(None, [data["shown"], told.get("reason")]))


def _procedure(data: Data) -> tuple[str, str]:
    content = data["content"]
    gauge = f"{value_text(content['gauge'])} G" if content.get("gauge") else ""
    outcome = "" if content["procedure"].startswith("cpr") else plain(content.get("outcome") or "")
    return PROCEDURES[content["procedure"]], ", ".join(
        filter(None, [content.get("site") or "", gauge, settings_text(content), outcome])
    )


def settings_text(content: Data) -> str:
    """What a pacemaker or defibrillator was set to: ``70 a minute, 60 mA`` or ``100 J, synchronized``."""
    told = content.get("settings") or {}
    units = (("rate", _("a minute")), ("output_ma", "mA"), ("joules", "J"))
    parts = [f"{value_text(told[name])} {unit}" for name, unit in units if told.get(name) is not None]
    if told.get("synchronized") is not None:
        parts.append(_("synchronized") if told["synchronized"] else _("not synchronized"))
    return ", ".join(parts)


def _decided(data: Data) -> tuple[str, str]:
    content = data["content"]
    words = content.get("text") or content.get("reason") or ""
    asked = _("requested: {asked_for}", asked_for=data["asked_for"]) if data.get("asked_for") else ""
    return DECISIONS.get(data["decision"], plain(data["decision"]).capitalize()), " · ".join(
        filter(None, [str(data["shown"]), _beyond(data), asked, f"“{words}”" if words else ""])
    )


def _placed(data: Data) -> tuple[str, str]:
    return _("Ordered"), " · ".join(filter(None, [str(data["shown"]), _beyond(data)]))


def _beyond(data: Data) -> str:
    """Why it goes beyond a hard limit, where it does."""
    reason = data["content"].get("hard_limit_reason")
    return _("over a hard limit “{reason}”", reason=reason) if reason else ""


def _read_back(data: Data) -> tuple[str, str]:
    if data["matches"]:
        return _("Read back"), _("matches")
    differences = ", ".join(DIFFERENCES.get(each, each) for each in data["differences"])
    return _("Read-back does not match"), _(
        "{differences} · said {content}", differences=differences, content=said(data["content"], data["came_to"])
    )


def _changed(data: Data) -> tuple[str, str]:
    if [*data["changes"]] == ["destination"]:
        return _("Destination"), str(data["destination"] or _("none"))
    return _("Case changed"), ", ".join(plain(name) for name in data["changes"])


def _stepped(data: Data) -> tuple[str, str]:
    text = " · ".join(filter(None, [questions.instructed_text(data["became"]), str(data["reason"])]))
    return _("Instruction {steps}", steps=questions.STEPS[data["step"]]), text


def _goal(data: Data) -> tuple[str, str]:
    name = _("SBP goal") if data["measure"] == "sbp" else _("MAP goal")
    ceiling = f"–{value_text(data['ceiling'])}" if data.get("ceiling") is not None else ""
    return name, f"{value_text(data['floor'])}{ceiling} mmHg, {data['reason']}"


def _renewed(data: Data) -> tuple[str, str]:
    """Of a pressor that runs, the next reading; its due time is told in UTC and read out in the agency's zone."""
    due, because = utc(_moment(data["reassessment"]["due_at"])), data["reassessment"]["because"]
    return _("Next pressure"), _("due {due} while {infusion} runs", due=due, infusion=because)


def _alert(word: str) -> Callable[[Data], tuple[str, str]]:
    return lambda data: (f"{word}{plain(data['priority']).capitalize()}", str(data["text"]))


def _named(lead: str, key: str) -> Callable[[Data], tuple[str, str]]:
    return lambda data: (lead, plain(data.get(key) or ""))


def _text(lead: str, key: str) -> Callable[[Data], tuple[str, str]]:
    return lambda data: (lead, str(data.get(key) or ""))


WORDS: dict[str, Callable[[Data], tuple[str, str]]] = {
    "case.opened": _named(_("Case opened"), ""),
    "case.changed": _changed,
    "case.accepted": lambda data: (
        _("Control accepted"),
        _("from {physician}", physician=data["taken_from"]) if data.get("taken_from") else "",
    ),
    "control.offered": lambda data: (_("Control offered"), _("to {name}", name=data["to"]["name"])),
    "case.released": _text(_("Control given up"), "reason"),
    "case.moved": lambda data: (
        _("Moved"),
        _("from {from_unit} to {to_unit}", from_unit=data["left"]["call_sign"], to_unit=data["unit"]["call_sign"]),
    ),
    "case.taken_over": lambda data: (
        _("Taken over"),
        _("{crew} is working this case: the simulated crew has stepped back", crew=data["crew"]),
    ),
    "case.handed_over": _text(_("Handed over to"), "to"),
    "case.closed": _named(_("Closed"), "outcome"),
    "case.reopened": _text(_("Reopened"), "reason"),
    "case.rules_changed": lambda data: (
        _("Rules changed"),
        f"{data['rule_set']['name']} {data['rule_set']['version']}",
    ),
    "phase.changed": lambda data: (PHASES[data["phase"]], ""),
    "goal.set": _goal,
    "coverage.announced": lambda data: (_("No coverage"), _("until {moment}", moment=utc(_moment(data["until"])))),
    "vitals.recorded": _vitals,
    "intervention.recorded": _given,
    "intervention.changed": _given_changed,
    "intervention.countersigned": _countersigned,
    "intervention.judged_anew": lambda data: (
        _("Checked again"),
        ": ".join(filter(None, [str(data["shown"]), "; ".join(each["text"] for each in data["check"]["findings"])])),
    ),
    "procedure.recorded": _procedure,
    "container.recorded": lambda data: (
        _("Opened") if data["content"]["form"] == "cylinder" else _("Mixed"),
        str(data["shown"]),
    ),
    "container.discarded": lambda data: (
        _("Discarded"),
        " · ".join(filter(None, [str(data["shown"]), str(data["reason"])])),
    ),
    "note.added": _text(_("Note"), "text"),
    "order.requested": lambda data: (_("Order requested"), str(data["shown"])),
    "order.placed": _placed,
    "order.decided": _decided,
    "order.answered": lambda data: (_("Query answered"), f"{data['shown']} · “{data['text']}”"),
    "order.cosigned": lambda data: (_("Co-signed"), f"{data['shown']} · “{data['reason']}”"),
    "order.read_back": _read_back,
    "order.set_back": lambda data: (_("Order set back"), f"{data['shown']} · {data['reason']}"),
    "order.restated": _text(_("Order reckoned anew"), "shown"),
    "order.ended": lambda data: (ended_as(data["became"]), str(data.get("reason") or "")),
    "question.asked": lambda data: (questions.lead(data["became"]), questions.asked_text(data["became"])),
    "question.seen": _text(_("Question seen"), ""),
    "question.withdrawn": lambda data: (_("Question withdrawn"), f"“{data['became']['text']}” · {data['reason']}"),
    "instruction.given": lambda data: (
        _("Answered") if data["answered"] else _("Instruction"),
        questions.instructed_text(data["became"]),
    ),
    "instruction.moved": _stepped,
    "move.seen": lambda _data: (_("Moved patient seen"), _("by the new crew")),
    "destination.seen": lambda data: (_("Destination seen"), str(data["destination"] or _("none"))),
    "entry.corrected": lambda data: (
        _("{kind} entered in error", kind=plain(data["target"]["kind"]).capitalize()),
        str(data["reason"]),
    ),
    "reassessment.moved": _named(_("Reassessment"), "state"),
    "reassessment.renewed": _renewed,
    "alert.raised": _alert(""),
    "alert.changed": _alert(_("Now ")),
    "alert.acknowledged": lambda data: (
        _("Acknowledged"),
        " · ".join(filter(None, [plain(data["alert_kind"]), data.get("note") or ""])),
    ),
    "alert.escalated": lambda data: (
        _("Escalated"),
        _("{alert_kind} to {role}", alert_kind=plain(data["alert_kind"]), role=plain(data["to"])),
    ),
    "alert.cleared": lambda data: (_("Alert cleared"), f"{plain(data['alert_kind'])}: {data['because']}"),
    "review.added": _text(_("Review"), "text"),
}
