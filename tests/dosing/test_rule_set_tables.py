"""Each kind of entry of a rule set file: what is read of it, and in which words it is refused.

TOML 1.0 says what a table, a list and a number are; which words and units may stand there is the project's own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.units import in_volume
from dosing.load.book import Book
from dosing.load.schema import flat
from dosing.load.table import Table, value_of
from dosing.load.table import read as read_table
from dosing.rules.rule_set import (
    Band,
    Figure,
    Lasts,
    Limit,
    PressureRule,
    Shared,
    Source,
    Strength,
    Treatment,
    Wants,
    WatchRule,
    Window,
)
from dosing.rules.shape import Entry, Keys, Longest, Named, OneOf, Unit

LABEL = Source("label", "the label", "read")
SAID = {"source": "label"}
PER_KG = "is stated in g/kg, the limit in mg/kg"
OF_WHAT = ("at.measurement", "is missing: say of what this number is")
NO_SOURCE = [("at", "a number lacks its source")]


def read(values: Any, reader: Callable[[Table], Any]) -> tuple[Any, list[tuple[str, str]]]:
    """What the reader makes of a table at ``at``, and the faults that it notes."""
    book = Book("draft.toml", "")
    around = Table(book, "", {})
    around.found["sources"] = {"label": LABEL}
    found = reader(Table(book, "at", values, around))
    return found, [(fault.entry, fault.text) for fault in book.faults]


def of(kind: type) -> Callable[[Table], Any]:
    return lambda table: read_table(kind, table)


def x(holds: Any, *marks: object, needed: bool = True) -> Callable[[Table], Any]:
    """What the entry ``x`` of a table says, as such a field."""
    return lambda table: value_of(table, Entry("x", "x", holds, needed, marks))


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        (
            {"treatments": ["one", "other"], "per_bags": 4, **SAID},
            Shared(treatments=frozenset({"one", "other"}), per_bags=4, source=LABEL),
        ),
        ({"per_bags": 1, **SAID}, Shared(treatments=frozenset(), per_bags=1, source=LABEL)),
    ],
)
def test_a_shared_count(values: dict[str, Any], expected: Shared) -> None:
    assert read(values, of(Shared)) == (expected, [])


def test_a_window() -> None:
    values = {"minutes": 180, "causes": ["trauma"], **SAID}

    assert read(values, of(Window)) == (Window(minutes=180, causes=frozenset({"trauma"}), source=LABEL), [])


def test_a_wish_with_all_that_it_may_say() -> None:
    values = {
        "text": "slow first",
        "measurement": "hr",
        "below": 60,
        "at_least": 40,
        "below_by_who": {"adult": 60, "child": 80},
        "history": "pacemaker",
        "not_impressions": ["septic"],
        "not_rhythms": ["torsades", "heart_block"],
        "not_lungs": ["crackles"],
        "opens": True,
        "ungated": True,
        **SAID,
    }
    expected = Wants(
        text="slow first",
        source=LABEL,
        measurement="hr",
        below=60,
        at_least=40,
        below_by_who={"adult": 60, "child": 80},
        history="pacemaker",
        not_impressions=frozenset({"septic"}),
        not_rhythms=frozenset({"torsades", "heart_block"}),
        not_lungs=frozenset({"crackles"}),
        opens=True,
        ungated=True,
    )

    assert read(values, of(Wants)) == (expected, [])


def test_a_wish_that_says_no_more_than_its_words() -> None:
    found, faults = read({"text": "slow first", **SAID}, of(Wants))

    assert (found, faults) == (Wants(text="slow first", source=LABEL), [])
    assert (found.opens, found.ungated) == (False, False)


@pytest.mark.parametrize(
    ("reader", "values", "fault"),
    [
        (of(Shared), {"per_bags": 0, **SAID}, ("at.per_bags", "is 0, not a number above zero")),
        (of(Shared), {"more": 1, **SAID}, ("at.more", "is not a known entry")),
        (of(Shared), {}, NO_SOURCE[0]),
        (of(Window), {"causes": ["trauma"], **SAID}, ("at.minutes", "is missing")),
        (of(Window), {"minutes": 1, "more": 1, **SAID}, ("at.more", "is not a known entry")),
        (of(Wants), SAID, ("at.text", "is missing")),
        (of(Wants), {"text": "x", "more": 1, **SAID}, ("at.more", "is not a known entry")),
        (
            of(Wants),
            {"text": "x", "below": 5, **SAID},
            OF_WHAT,
        ),
        (
            of(Wants),
            {"text": "x", "at_least": 5, **SAID},
            OF_WHAT,
        ),
        (
            of(Wants),
            {"text": "x", "below_by_who": {"adult": 5}, **SAID},
            OF_WHAT,
        ),
        (
            of(Wants),
            {"text": "x", "measurement": "hr", "below_by_who": {"dog": 5}, **SAID},
            ("at.below_by_who.dog", "is not a known entry"),
        ),
        (
            of(Wants),
            {"text": "x", "measurement": "hr", "below_by_who": {"adult": "5"}, **SAID},
            ("at.below_by_who.adult", "is not a number"),
        ),
    ],
)
def test_what_is_wrong_with_a_condition(
    reader: Callable[[Table], Any], values: dict[str, Any], fault: tuple[str, str]
) -> None:
    assert read(values, reader)[1] == [fault]


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("causes", ["dog"], "holds 'dog', not one of gut, other, postpartum, trauma"),
        ("minutes", -1, "is -1, not a number from 0 up"),
    ],
)
def test_a_window_of_other_words_or_numbers(key: str, value: Any, words: str) -> None:
    values = {"minutes": 1, "causes": ["trauma"], **SAID, key: value}

    assert read(values, of(Window))[1] == [(f"at.{key}", words)]


AB = OneOf({"a", "b"})
NO_X = "is missing"


@pytest.mark.parametrize(
    ("reader", "value", "found", "fault"),
    [
        (x(str), "words", "words", None),
        (x(str), " ", " ", "is empty"),
        (x(str), 5, "", "is not a text"),
        (x(str), None, "", NO_X),
        (x(str, needed=False), None, None, None),
        (x(str, Longest(5)), "words", "words", None),
        (x(str, Longest(4)), "words", "words", "is longer than 4 characters"),
        (x(str, AB), "a", "a", None),
        (x(str, AB), "c", "c", "is 'c', not one of a, b"),
        (x(str, AB), "", "", "is empty"),
        (x(str, AB), None, "", NO_X),
        (x(str, AB, needed=False), None, None, None),
        (x(frozenset[str]), ["a", "b"], frozenset("ab"), None),
        (x(frozenset[str], needed=False), None, None, None),
        (x(frozenset[str]), "a", frozenset(), "is not a list"),
        (x(frozenset[str]), [], frozenset(), "is empty"),
        (x(frozenset[str], needed=False), [], frozenset(), None),
        (x(frozenset[str]), ["a", ""], frozenset({"a", ""}), "is not a list of texts"),
        (x(frozenset[str]), ["a", 1], frozenset({"a", "1"}), "is not a list of texts"),
        (x(frozenset[str], AB), ["c"], frozenset("c"), "holds 'c', not one of a, b"),
        (x(tuple[str, ...], AB), ["b", "a"], ("a", "b"), None),
        (x(bool), True, True, None),
        (x(bool), False, False, None),
        (x(bool, needed=False), None, None, None),
        (x(bool), 1, None, "is not true or false"),
        (x(float), 0, 0, None),
        (x(float), 2.5, 2.5, None),
        (x(float, needed=False), None, None, None),
        (x(float, needed=False), True, None, "is not a number"),
        (x(float, needed=False), -1, None, "is -1, not a number from 0 up"),
        (x(float, needed=False), float("inf"), None, "is inf, not a number from 0 up"),
        (x(float), "5", 0, "is not a number"),
        (x(float), None, 0, NO_X),
        (x(Amount), "0.1 mg/mL", Amount(0.1, "mg/mL"), None),
        (x(Amount, needed=False), None, None, None),
        (x(Amount), None, None, NO_X),
        (x(Amount), "0 mg", None, "'0 mg' is not an amount: the amount must be above zero"),
        (x(Amount), "1 ug", None, "'1 ug' is not an amount: unknown unit 'ug'"),
        (x(Amount), "mg", None, "'mg' is not an amount: could not convert string to float: 'mg'"),
        (x(Mapping[str, str]), {"y": "z"}, {"y": "z"}, None),
        (x(Mapping[str, str]), {}, {}, None),
        (x(Mapping[str, str]), None, {}, NO_X),
        (x(Mapping[str, str]), [1], {}, "is not a table"),
        (x(Mapping[str, tuple[Shared, ...]]), {}, {}, "is empty"),
        (x(tuple[Shared, ...]), [SAID], (Shared(source=LABEL),), None),
        (x(tuple[Shared, ...], needed=False), None, None, None),
        (x(tuple[Shared, ...], needed=False), {}, (), "is not a list of tables"),
        (x(tuple[Shared, ...]), None, (), NO_X),
        (x(tuple[Shared, ...]), [], (), "is empty"),
        (x(Source), "label", LABEL, None),
    ],
)
def test_an_entry_is_read_by_its_kind_or_named(
    reader: Callable[[Table], Any], value: Any, found: Any, fault: str | None
) -> None:
    values = {} if value is None else {"x": value}

    assert read(values, reader) == (found, [] if fault is None else [("at.x", fault)])


@pytest.mark.parametrize(
    ("value", "words"),
    [("page", "the source 'page' is not among the sources"), (5, "is not the name of a source"), (None, NO_X)],
)
def test_a_source_that_nobody_named(value: Any, words: str) -> None:
    found, faults = read({} if value is None else {"x": value}, x(Source))

    assert (found.text, faults) == ("no source", [("at.x", words)])


@pytest.mark.parametrize(
    ("marks", "values", "fault"),
    [
        ((Keys({"a": "", "b": ""}),), {"a": "y"}, ("at.x.b", NO_X)),
        ((Keys({"a": ""}),), {"a": "y", "b": "y"}, ("at.x.b", "is not a known entry")),
        ((AB,), {"c": "y"}, ("at.x.c", "is not a known entry")),
        ((Named(re.compile("[a-z]"), "one letter"),), {"ab": "y"}, ("at.x.ab", "is not a name here: one letter")),
    ],
)
def test_the_names_in_a_table(marks: tuple[object, ...], values: dict[str, str], fault: tuple[str, str]) -> None:
    assert read({"x": values}, x(Mapping[str, str], *marks))[1] == [fault]


def test_what_stands_in_a_table_that_is_missing_is_not_named_besides() -> None:
    assert read({}, x(Window))[1] == [("at.x", NO_X)]


def test_a_number_without_its_source_is_named_at_its_table() -> None:
    assert read({"least": 1, "most": 2}, of(Lasts))[1] == NO_SOURCE


def test_what_is_no_table_is_named_itself() -> None:
    assert read([1], lambda table: table.values) == ({}, [("at", "is not a table")])


@pytest.mark.parametrize(
    ("name", "value", "unit", "fault"),
    [
        ("interval", 2, "min", None),
        ("interval", 2, "s", ("at.interval.unit", "is 's': this number is read in min")),
        ("interval", 0, "min", ("at.interval.value", "is 0, not a number above zero")),
        ("grace_s", 0, "s", None),
        ("grace_s", -1, "s", ("at.grace_s.value", "is -1, not a number from 0 up")),
        ("falling_slope", -0.7, "mmHg/min", None),
        ("falling_slope", 0, "mmHg/min", ("at.falling_slope.value", "is 0, not a number below zero")),
        ("interval", float("nan"), "min", ("at.interval.value", "is nan, not a number above zero")),
        ("interval", True, "min", ("at.interval.value", "is not a number")),
        ("count", 5, "pushes", None),
        ("count", 5, None, None),
        ("interval", 5, None, ("at.interval.unit", "is missing")),
    ],
)
def test_a_figure_has_its_unit_and_its_range(
    name: str, value: Any, unit: str | None, fault: tuple[str, str] | None
) -> None:
    figure = {"value": value, **SAID} | ({} if unit is None else {"unit": unit})
    entry = next(each for kind in (Treatment, Band, PressureRule, WatchRule) for each in flat(kind) if each.key == name)
    found, faults = read({name: figure}, lambda table: value_of(table, entry))

    if fault is None:
        assert (found, faults) == (Figure(value, unit or "", LABEL), [])
    else:
        assert fault in faults


def test_a_figure_without_its_number_says_nothing() -> None:
    assert read({"x": {"unit": "min", **SAID}}, x(Figure, Unit("min")))[1] == [("at.x.value", NO_X)]


def test_a_figure_that_is_left_out() -> None:
    assert read({}, x(Figure, Unit("min"), needed=False)) == (None, [])
    assert read({}, x(Figure, Unit("min")))[0].value == 0
    assert read({}, x(Figure, Unit("min")))[1] == [("at.x", NO_X)]


def test_a_strength() -> None:
    values = {"amount": "0.1 mg/mL", "name": "vial", **SAID}
    exact = units.quantity(Amount(0.1, "mg/mL"))

    assert read(values, of(Strength)) == (
        Strength(amount=Amount(0.1, "mg/mL"), source=LABEL, exact=exact, name="vial"),
        [],
    )
    assert read({**values, "amount": "1 mg"}, of(Strength)) == (
        None,
        [("at.amount", "is mg, not a strength for each mL")],
    )
    assert read(SAID, of(Strength)) == (None, [("at.amount", "is missing")])
    assert read({**values, "more": 1}, of(Strength))[1] == [("at.more", "is not a known entry")]


def limit(values: dict[str, Any] | None, bag_ml: float | None = None) -> tuple[Any, list[tuple[str, str]]]:
    def reader(table: Table) -> Any:
        table.found["bag"] = bag_ml and Figure(bag_ml, "mL", LABEL)
        return value_of(table, next(entry for entry in flat(Band) if entry.key == "most"))

    return read({} if values is None else {"most": values}, reader)


def test_a_limit_per_kg_between_two_amounts() -> None:
    found, faults = limit({"amount": "30 mL/kg", "at_most": "1000 mL", "at_least": "10 mL", **SAID})
    exact = {"exact": units.quantity(Amount(30, "mL/kg")), "exact_most": units.quantity(Amount(1000, "mL"))}
    wanted = Limit(
        amount=Amount(30, "mL/kg"),
        source=LABEL,
        at_most=Amount(1000, "mL"),
        at_least=Amount(10, "mL"),
        **exact,
        exact_least=units.quantity(Amount(10, "mL")),
        per_kg=True,
    )

    assert (found, faults) == (wanted, [])
    assert (found.exact, found.exact_most, found.exact_least) == (wanted.exact, wanted.exact_most, wanted.exact_least)


def test_a_limit_in_bags_counts_as_their_volume() -> None:
    found, faults = limit({"amount": "2 bag", "at_most": "900 mL", **SAID}, 300)

    assert (found.exact, faults) == (units.quantity(Amount(600, "mL")), [])
    assert (found.exact_least, found.per_kg) == (None, False)
    assert in_volume(Amount(2, "bag"), None) == units.quantity(Amount(2, "bag"))


@pytest.mark.parametrize(
    ("values", "fault"),
    [
        ({**SAID}, ("at.most.amount", "is missing")),
        ({"amount": "1 mg"}, ("at.most", "a number lacks its source")),
        ({"amount": "1 mg", "more": 1, **SAID}, ("at.most.more", "is not a known entry")),
        ({"amount": "1 mg", "at_most": "1 mL", **SAID}, ("at.most.at_most", "is stated in mL, the limit in mg")),
        ({"amount": "1 mg/kg", "at_least": "1 g/kg", **SAID}, ("at.most.at_least", PER_KG)),
    ],
)
def test_what_is_wrong_with_a_limit(values: dict[str, Any], fault: tuple[str, str]) -> None:
    assert limit(values)[1] == [fault]


def test_a_limit_that_is_left_out() -> None:
    assert limit(None) == (None, [])
