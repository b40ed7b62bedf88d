"""Rule sets: which one an agency has adopted, and from when on a case is judged by it."""

from __future__ import annotations

from dataclasses import dataclass

from consult.events.base import Event

Label = dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSetAdopted(Event):
    """A medical director has approved a rule set for the agency; stands in the agency's own journal.

    `rule_set` and `replaced` are name, version and digest; `by_way_of` is `page`, where the director was signed in, or
    `command`, where whoever runs the server named them.
    """

    kind = "rule_set.adopted"
    rule_set: Label
    replaced: Label | None
    reason: str
    by_way_of: str
    open_cases: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRulesChanged(Event):
    """From here on the case is judged by another rule set; what was judged before keeps the digest of its own."""

    kind = "case.rules_changed"
    rule_set: Label
    replaced: Label
