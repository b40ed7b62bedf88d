"""The table of alerts in DEVELOPERS.md: every kind in its order, with what it says of priority and escalation true."""

from __future__ import annotations

import re
from pathlib import Path

from consult.case.escalation import ESCALATE_AFTER
from dosing.ground.kinds import ALERTS, HAPPENINGS

PAGE = Path(__file__).parents[1] / "DEVELOPERS.md"
ROWS = {
    cells[0].strip("` "): [cell.strip() for cell in cells[1:]]
    for line in PAGE.read_text(encoding="utf-8").partition("## Alerts")[2].partition("\n## ")[0].splitlines()
    if (cells := re.split(r"(?<!\\)\|", line)[1:-1]) and cells[0].strip().startswith("`")
}


def test_it_tells_of_every_kind_in_its_order() -> None:
    assert list(ROWS) == list(ALERTS)
    assert all(len(row) == 4 and all(row) for row in ROWS.values())


def test_what_ends_by_notice_says_so() -> None:
    by_notice = {kind for kind, (_, _, ends, _) in ROWS.items() if ends.startswith("acknowledged")}

    assert by_notice == set(HAPPENINGS) - {"clock_offset"}


def test_what_escalates_is_of_a_priority_that_does() -> None:
    escalates = {kind for kind, row in ROWS.items() if row[3].startswith("yes")}
    urgent = {kind for kind, row in ROWS.items() if re.match("|".join(ESCALATE_AFTER), row[1])}

    assert escalates == urgent == set(ALERTS) - {"clock_offset"}
