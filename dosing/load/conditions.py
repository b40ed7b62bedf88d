"""Reads what must be so before a treatment of a rule set file may be given: its time, its count, its signs."""

from __future__ import annotations

from dosing.load import words as words_of
from dosing.load.table import Table
from dosing.rules.rule_set import Shared, Wants, Window


def window(table: Table) -> Window:
    """The time after the onset in which it may begin."""
    limit = Window(
        minutes=table.need_number("minutes"),
        causes=table.words("causes", words_of.BLEEDING_CAUSES),
        source=table.source(),
    )
    table.close()
    return limit


def shared(table: Table) -> Shared:
    """The count that it shares with others."""
    count = Shared(treatments=table.words("treatments"), per_bags=table.number("per_bags"), source=table.source())
    if count.per_bags == 0:
        table.fault("per_bags", "is 0, not a number above zero")
    table.close()
    return count


def wants(table: Table) -> Wants:
    """A sign or history that is wanted first, or that opens the treatment."""
    by_who = table.table("below_by_who", needed=False)
    wanted = Wants(
        text=table.text("text"),
        source=table.source(),
        measurement=table.word("measurement", words_of.MEASUREMENTS, needed=False),
        below=table.number("below"),
        at_least=table.number("at_least"),
        below_by_who={who: by_who.need_number(who) for who in by_who.values},
        history=table.word("history", words_of.HISTORY, needed=False),
        not_impressions=table.words("not_impressions", words_of.IMPRESSIONS),
        opens=bool(table.flag("opens")),
        ungated=bool(table.flag("ungated")),
    )
    for who in sorted(wanted.below_by_who.keys() - words_of.WHO):
        table.fault(f"below_by_who.{who}", f"is none of {', '.join(sorted(words_of.WHO))}")
    if not wanted.measurement and (wanted.below is not None or wanted.at_least is not None or wanted.below_by_who):
        table.fault("measurement", "is missing: of what is this number?")
    table.close()
    return wanted
