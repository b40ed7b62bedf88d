"""On which line of a rule set file a fault is named: of the entry, else of what is nearest around it (TOML 1.0)."""

from __future__ import annotations

import pytest

from dosing.load.book import Book
from dosing.load.faults import Fault

FILE = """\
name = "draft"

[pressure]
adult_floor = { value = 65 }
child.floor = { value = 50 }

[treatments."atropine"]
unit = "mg"

[[treatments.atropine.bands]]
who = "adult"

[[treatments.atropine.bands]]
who = "child"
  least = { amount = "0.1 mg" }

[ treatments.ketamine.reassessment ]
due = 5

[[treatments.ketamine.bands]]
[treatments.ketamine.bands.most]
amount = "1 mg"
[[treatments.ketamine.bands]]
who = "child"
[treatments.ketamine.bands.most]
amount = "2 mg"
"""
BASE = {"treatments": {"atropine": {"bands": [{}, {}, {}], "unit": "mg"}}}


def line_of(entry: str, base: dict[str, object] | None = None, raw: str = FILE) -> int:
    book = Book("draft.toml", raw, base)
    book.fault(entry, "is wrong")
    assert book.faults == [Fault("draft.toml", entry, book.faults[0].line, "is wrong")]
    return book.faults[0].line


@pytest.mark.parametrize(
    ("entry", "line"),
    [
        ("name", 1),
        ("pressure", 3),
        ("pressure.adult_floor", 4),
        ("pressure.adult_floor.value", 4),
        ("pressure.child.floor", 5),
        ("pressure.child", 5),
        ("pressure.nothing", 3),
        ("treatments.atropine", 7),
        ("treatments.atropine.unit", 8),
        ("treatments.atropine.bands.0", 10),
        ("treatments.atropine.bands.0.who", 11),
        ("treatments.atropine.bands.1", 13),
        ("treatments.atropine.bands.1.least.amount", 15),
        ("treatments.atropine.bands", 10),
        ("treatments.ketamine.reassessment.due", 18),
        ("treatments.ketamine.unit", 17),
        ("treatments.ketamine", 17),
        ("treatments.ketamine.bands.0.most", 21),
        ("treatments.ketamine.bands.0.most.amount", 22),
        ("treatments.ketamine.bands.1.most.amount", 26),
        ("treatments.ketamine.bands.1.most.source", 25),
        ("treatments.fentanyl", 7),
        ("treatments", 7),
        ("nowhere", 1),
        ("nowhere.at.all", 1),
    ],
)
def test_a_fault_is_named_at_its_line_or_the_nearest(entry: str, line: int) -> None:
    assert line_of(entry) == line


@pytest.mark.parametrize(
    ("entry", "line"),
    [
        ("treatments.atropine.bands.3", 10),
        ("treatments.atropine.bands.4.who", 14),
        ("treatments.atropine.bands.1", 10),
        ("treatments.atropine.unit", 8),
    ],
)
def test_the_items_of_a_file_that_stands_upon_another_are_counted_on(entry: str, line: int) -> None:
    """Three bands stand in the set below: the first of this file is the fourth."""
    assert line_of(entry, BASE) == line


@pytest.mark.parametrize(
    "base", [{"treatments": {}}, {"treatments": {"atropine": {}}}, {"treatments": "none"}, {}], ids=str
)
def test_where_the_set_below_has_none_they_are_counted_from_the_first(base: dict[str, object]) -> None:
    assert line_of("treatments.atropine.bands.1", base) == 13


def test_a_file_without_that_entry_names_its_first_line() -> None:
    assert line_of("name", raw="") == 1


def test_the_same_fault_is_noted_once() -> None:
    book = Book("draft.toml", FILE)
    for text in ("is wrong", "is wrong", "is wrong twice"):
        book.fault("name", text)

    assert [str(fault) for fault in book.faults] == [
        "draft.toml, line 1, name: is wrong",
        "draft.toml, line 1, name: is wrong twice",
    ]
