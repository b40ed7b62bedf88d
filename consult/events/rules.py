"""Rule sets: which one an agency has adopted, and from when on a case is judged by it."""

from __future__ import annotations

from msgspec import Struct

from consult.events.base import Event

Label = dict[str, str]


class ChangedNumber(Struct, frozen=True):
    """An entry whose numbers were changed in the form, and why; `entry` is its place in the file, `what` its name."""

    entry: str
    what: str
    reason: str


class RuleSetAdopted(Event, frozen=True, kw_only=True):
    """A medical director has approved a rule set for the agency; stands in the agency's own journal.

    `rule_set` and `replaced` are name, version and digest; `by_way_of` is `page`, where the director was signed in, or
    `command`, where whoever runs the server named them. `numbers` are those that were changed one by one in the form.
    """

    kind = "rule_set.adopted"
    rule_set: Label
    replaced: Label | None
    reason: str
    by_way_of: str
    open_cases: int
    numbers: list[ChangedNumber] = []
