"""Each kind of entry of a rule set file: what is read of it, and in which words it is refused.

TOML 1.0 says what a table, a list and a number are; which words and units may stand there is the project's own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.units import in_volume
from dosing.load import conditions
from dosing.load.book import Book
from dosing.load.table import Table
from dosing.rules.rule_set import Figure, Limit, Shared, Source, Strength, Wants, Window

LABEL = Source("label", "the label", "read")
SAID = {"source": "label"}
PER_KG = "is stated in g/kg, the limit in mg/kg"
OF_WHAT = ("at.measurement", "is missing: of what is this number?")
NO_SOURCE = [("at", "a number lacks its source")]


def read(values: Any, reader: Callable[[Table], Any]) -> tuple[Any, list[tuple[str, str]]]:
    """What the reader makes of a table at ``at``, and the faults that it notes."""
    book = Book("draft.toml", "")
    book.sources["label"] = LABEL
    found = reader(Table(book, "at", values))
    return found, [(fault.entry, fault.text) for fault in book.faults]


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
    assert read(values, conditions.shared) == (expected, [])


def test_a_window() -> None:
    values = {"minutes": 180, "causes": ["trauma"], **SAID}

    assert read(values, conditions.window) == (Window(minutes=180, causes=frozenset({"trauma"}), source=LABEL), [])


def test_a_wish_with_all_that_it_may_say() -> None:
    values = {
        "text": "slow first",
        "measurement": "hr",
        "below": 60,
        "at_least": 40,
        "below_by_who": {"adult": 60, "child": 80},
        "history": "pacemaker",
        "not_impressions": ["septic"],
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
        opens=True,
        ungated=True,
    )

    assert read(values, conditions.wants) == (expected, [])


def test_a_wish_that_says_no_more_than_its_words() -> None:
    found, faults = read({"text": "slow first", **SAID}, conditions.wants)

    assert (found, faults) == (Wants(text="slow first", source=LABEL), [])
    assert (found.opens, found.ungated) == (False, False)


@pytest.mark.parametrize(
    ("reader", "values", "fault"),
    [
        (conditions.shared, {"per_bags": 0, **SAID}, ("at.per_bags", "is 0, not a number above zero")),
        (conditions.shared, {"more": 1, **SAID}, ("at.more", "is no entry that is known here")),
        (conditions.shared, {}, NO_SOURCE[0]),
        (conditions.window, {"causes": ["trauma"], **SAID}, ("at.minutes", "is missing")),
        (conditions.window, {"minutes": 1, "more": 1, **SAID}, ("at.more", "is no entry that is known here")),
        (conditions.wants, SAID, ("at.text", "is missing")),
        (conditions.wants, {"text": "x", "more": 1, **SAID}, ("at.more", "is no entry that is known here")),
        (
            conditions.wants,
            {"text": "x", "below": 5, **SAID},
            OF_WHAT,
        ),
        (
            conditions.wants,
            {"text": "x", "at_least": 5, **SAID},
            OF_WHAT,
        ),
        (
            conditions.wants,
            {"text": "x", "below_by_who": {"adult": 5}, **SAID},
            OF_WHAT,
        ),
        (
            conditions.wants,
            {"text": "x", "measurement": "hr", "below_by_who": {"dog": 5}, **SAID},
            ("at.below_by_who.dog", "is none of adult, child"),
        ),
        (
            conditions.wants,
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

    assert read(values, conditions.window)[1] == [(f"at.{key}", words)]


@pytest.mark.parametrize(
    ("reader", "value", "found", "fault"),
    [
        (lambda table: table.text("x"), "words", "words", None),
        (lambda table: table.text("x"), " ", " ", "is empty"),
        (lambda table: table.text("x"), 5, "", "is not a text"),
        (lambda table: table.text("x"), None, "", "is missing"),
        (lambda table: table.text("x", needed=False), None, "", None),
        (lambda table: table.text("x", longest=5), "words", "words", None),
        (lambda table: table.text("x", longest=4), "words", "words", "is longer than 4 characters"),
        (lambda table: table.word("x", {"a", "b"}), "a", "a", None),
        (lambda table: table.word("x", {"b", "a"}), "c", "c", "is 'c', not one of a, b"),
        (lambda table: table.word("x", {"a"}), "", "", "is empty"),
        (lambda table: table.word("x", {"a"}), None, "", "is missing"),
        (lambda table: table.word("x", {"a"}, needed=False), None, "", None),
        (lambda table: table.words("x"), ["a", "b"], frozenset("ab"), None),
        (lambda table: table.words("x"), None, frozenset(), None),
        (lambda table: table.words("x"), "a", frozenset(), "is not a list"),
        (lambda table: table.words("x"), ["a", ""], frozenset({"a", ""}), "is not a list of texts"),
        (lambda table: table.words("x"), ["a", 1], frozenset({"a", "1"}), "is not a list of texts"),
        (lambda table: table.words("x", {"b", "a"}), ["c"], frozenset("c"), "holds 'c', not one of a, b"),
        (lambda table: table.flag("x"), True, True, None),
        (lambda table: table.flag("x"), False, False, None),
        (lambda table: table.flag("x"), None, None, None),
        (lambda table: table.flag("x"), 1, None, "is not true or false"),
        (lambda table: table.number("x"), 0, 0, None),
        (lambda table: table.number("x"), 2.5, 2.5, None),
        (lambda table: table.number("x"), None, None, None),
        (lambda table: table.number("x"), True, None, "is not a number"),
        (lambda table: table.number("x"), -1, None, "is -1, not a number from 0 up"),
        (lambda table: table.number("x"), float("inf"), None, "is inf, not a number from 0 up"),
        (lambda table: table.number("x"), "5", None, "is not a number"),
        (lambda table: table.need_number("x"), 5, 5, None),
        (lambda table: table.need_number("x"), None, 0, "is missing"),
        (lambda table: table.amount("x"), "0.1 mg/mL", Amount(0.1, "mg/mL"), None),
        (lambda table: table.amount("x"), None, None, None),
        (lambda table: table.amount("x", needed=True), None, None, "is missing"),
        (lambda table: table.amount("x"), "0 mg", None, "'0 mg' is no amount: the amount must be above zero"),
        (lambda table: table.amount("x"), "1 ug", None, "'1 ug' is no amount: 'ug' is not a unit that is used here"),
        (lambda table: table.amount("x"), "mg", None, "'mg' is no amount: could not convert string to float: 'mg'"),
        (lambda table: table.table("x", needed=False).values, None, {}, None),
        (lambda table: table.table("x").values, None, {}, "is missing"),
        (lambda table: table.table("x").values, {"y": 1}, {"y": 1}, None),
        (lambda table: table.table("x").values, [1], {}, "is not a table"),
        (lambda table: [each.path for each in table.tables("x")], [{}, {}], ["at.x.0", "at.x.1"], None),
        (lambda table: table.tables("x"), None, [], None),
        (lambda table: table.tables("x"), {}, [], "is not a list of tables"),
        (lambda table: table.tables("x", at_least_one=True), None, [], "is missing"),
        (lambda table: table.tables("x", at_least_one=True), [], [], "is empty"),
        (lambda table: table.source("x"), "label", LABEL, None),
        (lambda table: table.source("x").text, "page", "no source", "the source 'page' is not among the sources"),
        (lambda table: table.source("x").text, 5, "no source", "the source 5 is not among the sources"),
    ],
)
def test_an_entry_is_read_by_its_kind_or_named(
    reader: Callable[[Table], Any], value: Any, found: Any, fault: str | None
) -> None:
    values = {} if value is None else {"x": value}

    assert read(values, reader) == (found, [] if fault is None else [("at.x", fault)])


def test_what_stands_in_a_table_that_is_missing_is_not_named_besides() -> None:
    assert read({}, lambda table: table.table("x").text("y"))[1] == [("at.x", "is missing")]


def test_a_number_without_its_source_is_named_at_its_table() -> None:
    assert read({}, lambda table: table.source().id)[1] == NO_SOURCE


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
    found, faults = read({name: figure}, lambda table: table.figure(name))

    if fault is None:
        assert (found, faults) == (Figure(value, unit or "", LABEL), [])
    else:
        assert fault in faults


def test_a_figure_that_is_left_out() -> None:
    assert read({}, lambda table: table.figure("interval")) == (None, [])
    assert read({}, lambda table: table.need_figure("interval").value) == (0, [("at.interval", "is missing")])


def test_a_strength() -> None:
    values = {"amount": "0.1 mg/mL", "name": "vial", **SAID}
    exact = units.quantity(Amount(0.1, "mg/mL"))

    assert read(values, Table.strength) == (
        Strength(amount=Amount(0.1, "mg/mL"), source=LABEL, exact=exact, name="vial"),
        [],
    )
    assert read({**values, "amount": "1 mg"}, Table.strength) == (
        None,
        [("at.amount", "is mg, not a strength for each mL")],
    )
    assert read(SAID, Table.strength) == (None, [("at.amount", "is missing")])
    assert read({**values, "more": 1}, Table.strength)[1] == [("at.more", "is no entry that is known here")]


def limit(values: dict[str, Any], bag_ml: float | None = None) -> tuple[Any, list[tuple[str, str]]]:
    return read({"most": values}, lambda table: table.limit("most", bag_ml))


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
        ({"amount": "1 mg", "more": 1, **SAID}, ("at.most.more", "is no entry that is known here")),
        ({"amount": "1 mg", "at_most": "1 mL", **SAID}, ("at.most.at_most", "is stated in mL, the limit in mg")),
        ({"amount": "1 mg/kg", "at_least": "1 g/kg", **SAID}, ("at.most.at_least", PER_KG)),
    ],
)
def test_what_is_wrong_with_a_limit(values: dict[str, Any], fault: tuple[str, str]) -> None:
    assert limit(values)[1] == [fault]


def test_a_limit_that_is_left_out() -> None:
    assert read({}, lambda table: table.limit("most")) == (None, [])
