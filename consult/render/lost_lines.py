"""Lines that were lost with what ran by them: which way in that was, what is off for it, and what may be open yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from consult import zone
from consult.clock import when
from consult.render.lines import Line, filled
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet

Card = Mapping[str, Any]
ANTIDOTE = "phentolamine"  # of a pressor beside the vein, where the rule set has it
WAYS = {"IV": "iv_access", "IO": "io_access"}


def ways_in(card: Card) -> list[tuple[Card, str]]:
    """The ways in that were made, oldest first, each with the time at which it was lost, "" where it was not.

    A dose names no way in: it is lost where only one of its kind was there.
    """
    made = [each for each in card.get("access") or () if each.get("outcome") == "done"]
    lost = {way["id"]: dose["lost_line"]["at"] for dose in _lost(card) if (way := _the_way(dose, made))}
    return [(each, lost.get(each["id"], "")) for each in made]


def besides(card: Card) -> list[str]:
    """When lines were lost of which nobody said which way in they were."""
    made = [each for each in card.get("access") or () if each.get("outcome") == "done"]
    return [dose["lost_line"]["at"] for dose in _lost(card) if _the_way(dose, made) is None]


def off(card: Card, rules: RuleSet | None = None) -> list[dict[str, Any]]:
    """What ran at a rate, lost its line and has not run since, newest last, each as a line.

    By the `rules`, where they are known, ``antidote`` is the title of what they hold against a pressor that went beside
    the vein, while it is neither given nor ordered.
    """
    antidote = _antidote(card, rules)
    return [
        {"dose": dose, "line": _line(dose), "antidote": antidote if _is_swollen_pressor(dose, rules) else ""}
        for dose in _lost(card)
        if dose.get("rates") and not _ran_since(card, dose)
    ]


def is_lost(card: Card, dose: Card) -> bool:
    """Whether a line of the kind by which a dose was given is lost since, and no other of it was made after that."""
    after = [
        when(each["lost_line"]["at"])
        for each in _lost(card)
        if each["route"] == dose["route"] and when(each["lost_line"]["at"]) >= when(dose["given_at"])
    ]
    made = [when(way["at"]) for way, _at in ways_in(card) if way["procedure"] == WAYS.get(dose["route"])]
    return bool(after) and not any(at > max(after) for at in made)


def beside(card: Card, lost: Card) -> list[Card]:
    """What runs by the same route since before a line was lost: it may have run by that line."""
    at = when(lost["lost_line"]["at"])
    return [
        dose
        for dose in card.get("running") or ()
        if dose["status"] == "running" and dose["route"] == lost["route"] and when(dose["given_at"]) <= at
    ]


def words(card: Card) -> list[str]:
    """The same lines as texts."""
    return [
        "".join(each if isinstance(each, str) else clock(each["clock"]) for each in row["line"]) for row in off(card)
    ]


def clock(at: str) -> str:
    """The time of day at which a line was lost."""
    return zone.clock(when(at))


def _doses(card: Card) -> list[Card]:
    known = {dose["id"]: dose for dose in (*(card.get("doses") or ()), *(card.get("running") or ()))}
    return [dose for dose in known.values() if not dose.get("in_error")]


def _lost(card: Card) -> list[Card]:
    """The doses that lost their line, the earliest first."""
    found = [dose for dose in _doses(card) if dose.get("lost_line")]
    return sorted(found, key=lambda dose: when(dose["lost_line"]["at"]))


def _ran_since(card: Card, lost: Card) -> bool:
    """Whether the same drug has run at a rate since: by another line, so it was led on."""
    rates = [
        rate for dose in _doses(card) if dose["treatment"] == lost["treatment"] for rate in dose.get("rates") or ()
    ]
    return any(rate["amount"] and when(rate["at"]) > when(lost["lost_line"]["at"]) for rate in rates)


def _the_way(dose: Card, made: Iterable[Card]) -> Card | None:
    at = when(dose["lost_line"]["at"])
    there = [each for each in made if each["procedure"] == WAYS.get(dose["route"]) and when(each["at"]) <= at]
    return there[0] if len(there) == 1 else None


def _line(dose: Card) -> Line:
    lost = dose["lost_line"]
    words = _("{title} off since {time}, swelling at its line: not running elsewhere")
    if not lost["swollen"]:
        words = _("{title} off since {time}, its line is lost: not running elsewhere")
    return filled(words, title=dose["title"], time=[{"clock": lost["at"]}])


def _is_swollen_pressor(dose: Card, rules: RuleSet | None) -> bool:
    treatment = rules.treatments.get(dose["treatment"]) if rules else None
    return bool(dose["lost_line"]["swollen"] and treatment and treatment.drug_class == "pressor")


def _antidote(card: Card, rules: RuleSet | None) -> str:
    known = rules.treatments.get(ANTIDOTE) if rules else None
    asked = (*(card.get("given") or ()), *(card.get("orders") or ()))
    return "" if known is None or any(each["treatment"] == ANTIDOTE for each in asked) else known.title
