"""One entry of a rule set in a form: its numbers, their units and source; what was sent back as a change."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain
from typing import Any

from consult.problems import Invalid
from consult.screens.crew_treatments import title
from consult.screens.offered import PER_ML, UNITS
from consult.screens.rules_edges import edge_rows
from consult.screens.rules_rows import Row
from consult.screens.rules_sections import Section, whole
from dosing.ground import units
from dosing.ground.language import gettext as _
from dosing.rules.amended import NUMBER, Amendment, Number, entry_in, is_stale, numbers_of
from dosing.rules.rule_set import RuleSet
from dosing.rules.words import MARKS_TOLD

NAMES = {
    "value": _("Number"),
    "amount": _("Amount"),
    "at_most": _("At most"),
    "at_least": _("At least"),
    "from_kg": _("From this weight"),
    "under_kg": _("Under this weight"),
    "from_days": _("From this age"),
    "under_days": _("Under this age"),
    "floor": _("Goal, at least"),
    "ceiling": _("Goal, at most"),
    "from_years": _("From this age"),
    "under_years": _("Under this age"),
    "due_min": _("Due after"),
    "grace_s": _("Overdue after another"),
    "counts_from_min": _("Readings count from"),
    "max_min": _("Due at the latest"),
    "minutes": _("After the onset"),
    "least": _("At least"),
    "most": _("At most"),
}
# What the last word of a key says of its number's unit, where nothing beside it does.
ENDS = {"kg": "kg", "days": "days", "years": "years", "min": "min", "s": "s", "minutes": "min"}
BY_FIELD = {"floor": "mmHg", "ceiling": "mmHg", "least": "min", "most": "min"}
LONGEST = 300
NEW = "new"
LOCAL = "local"
OUR_CHOICE = "our choice"


class Words:
    """What each entry of a rule set is called on the page."""

    def __init__(self, rules: RuleSet) -> None:
        self._content = rules.content
        self._titles = {f"treatments.{slug}": title(each, rules) for slug, each in rules.treatments.items()}
        self._sections = [section for section in whole(rules).sections() if self._rows(section, rules)]
        self._by_section = {section.slug: self._rows(section, rules) for section in self._sections}
        self._by_entry = {
            row.entry: (section, row) for section in self._sections for row in self._by_section[section.slug]
        }

    @staticmethod
    def _rows(section: Section, rules: RuleSet) -> list[Row]:
        return [
            row for row in chain(*section.tables.values(), section.notes, edge_rows(rules, section.slug)) if row.entry
        ]

    def parts(self) -> list[dict[str, str]]:
        """The parts of which numbers can be changed."""
        return [{"slug": section.slug, "title": section.title} for section in self._sections]

    def part(self, slug: str) -> dict[str, Any] | None:
        """One of them with its numbers."""
        found = next((section for section in self._sections if section.slug == slug), None)
        return {"slug": slug, "title": found.title, "rows": self._by_section[slug]} if found else None

    def of(self, entry: str) -> str:
        """The entry in words; the place in the file where the page knows none."""
        around = entry
        while around and around not in self._by_entry:
            around = around.rpartition(".")[0]
        if not around:
            return self._titles.get(entry, entry)
        section, row = self._by_entry[around]
        return ": ".join(filter(None, (section.title, row.what, row.whom)))

    def change(self, change: Amendment) -> dict[str, Any]:
        """A gathered change: the entry in words, its numbers old and new, why, and whether it is another now."""
        old = {number.key: number for number in numbers_of(change.before)}
        return {
            "entry": change.entry,
            "told": self.of(change.entry),
            "numbers": [_told(old[key], *new) for key, new in change.numbers.items() if key in old],
            "reason": change.reason,
            "stale": is_stale(self._content, change),
        }


def _told(old: Number, value: str, unit: str) -> dict[str, str]:
    unit_of = _unit(old)
    return {
        "name": _name(old.key),
        "before": f"{old.value} {shown_unit(unit_of)}".strip(),
        "after": f"{value} {shown_unit(unit or unit_of)}".strip(),
    }


def shown_unit(unit: str) -> str:
    """A unit as it is shown: a slash before mL is read as a one."""
    return unit.replace("/mL", " per mL")


def _name(key: str) -> str:
    return NAMES.get(key) or key.rpartition(".")[2].replace("_", " ").capitalize()


def _unit(number: Number) -> str:
    return number.unit or BY_FIELD.get(number.key, "") or ENDS.get(number.key.rpartition("_")[2], "")


def form(rules: RuleSet, entry: str, known: Amendment | None, sent: Mapping[str, str]) -> dict[str, Any] | None:
    """The fields of an entry as they stand, were gathered or were sent; None where the set has no such entry."""
    table = entry_in(rules.content, entry)
    if table is None:
        return None
    gathered = known.numbers if known else {}
    fields = []
    for number in numbers_of(table):
        value, unit = gathered.get(number.key, (number.value, number.unit))
        fields.append(
            {
                "key": number.key,
                "name": _name(number.key),
                "now": f"{number.value} {shown_unit(_unit(number))}".strip(),
                "value": sent.get(f"number:{number.key}", value),
                "unit": sent.get(f"unit:{number.key}", unit) if number.stated else shown_unit(_unit(number)),
                "units": [(unit, shown_unit(unit)) for unit in _units(number)] if number.stated else (),
            }
        )
    said = {"source": "", "text": "", "mark": "", "reason": ""}  # a new number has no source until one is chosen
    if known:
        told = {"source": known.source or NEW, "text": known.text, "mark": known.mark, "reason": known.reason}
        said |= told
    said |= {key: sent[key] for key in said if key in sent}
    return {
        "fields": fields,
        **said,
        "source_now": rules.sources[table["source"]],
        "sources": [each for each in rules.sources.values() if each.id != table["source"]],
        "marks": MARKS_TOLD.items(),
    }


def _units(number: Number) -> list[str]:
    """The units in which an amount can be stated: those that measure the same, per kg and minute or not."""
    offered = PER_ML if "/mL" in number.unit else UNITS
    base = _measured(number.unit)
    return [number.unit, *(unit for unit in offered if unit != number.unit and _measured(unit) == base)]


def _measured(unit: str) -> str:
    return units.kind(unit).split("/")[0]


def asked(sent: Mapping[str, str], rules: RuleSet) -> Amendment:
    """The change that a form asks for; raises Invalid with what is missing in it."""
    entry = sent.get("entry", "")
    table = entry_in(rules.content, entry)
    if table is None:
        raise Invalid(_("The rule set in force has no number at this place."))
    numbers = {number.key: _asked_number(number, sent) for number in numbers_of(table)}
    changed = {key: pair for key, pair in numbers.items() if pair is not None}
    if not changed:
        raise Invalid(_("Every number is the same as in force."))
    reason = sent.get("reason", "").strip()
    if not reason or len(reason) > LONGEST:
        raise Invalid(_("Say why, in at most {longest} characters.", longest=LONGEST))
    return Amendment(entry=entry, numbers=changed, reason=reason, before=table, **_asked_source(sent, rules))


def _asked_number(number: Number, sent: Mapping[str, str]) -> tuple[str, str] | None:
    value = sent.get(f"number:{number.key}", "").strip().removeprefix("+")
    unit = sent.get(f"unit:{number.key}", "").strip() if number.stated else number.unit
    if not NUMBER.fullmatch(value):
        raise Invalid(
            _(
                "{name}: {value!r} is not a number. Use digits, with a decimal point if needed.",
                name=_name(number.key),
                value=value,
            )
        )
    if number.stated and unit not in _units(number):
        raise Invalid(_("{name}: choose a unit.", name=_name(number.key)))
    return None if (float(value), unit) == (float(number.value), number.unit) else (value, unit)


def _asked_source(sent: Mapping[str, str], rules: RuleSet) -> dict[str, str]:
    source = sent.get("source", "")
    if source in rules.sources:
        return {"source": source}
    if source == LOCAL:
        return {"text": _("Local choice of the medical director"), "mark": OUR_CHOICE}
    text, mark = sent.get("text", "").strip(), sent.get("mark", "")
    if source != NEW or not text or len(text) > LONGEST or mark not in MARKS_TOLD:
        raise Invalid(
            _(
                "Say where the new number comes from: choose a source, a local choice, or write a new one and how well "
                "it is known."
            )
        )
    return {"text": text, "mark": mark}
