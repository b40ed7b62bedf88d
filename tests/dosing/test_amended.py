"""Numbers changed one by one: which entries hold any, what the content becomes, and what is refused."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from dosing.load import reader
from dosing.rules.amended import Amendment, BadNumber, amended, entries_in, entry_in, is_stale, numbers_of
from dosing.rules.changes import changes
from tests.depth import few

DEMONSTRATION = reader.load_shipped("demonstration")
MOST = "treatments.epinephrine-push-dose.bands.1.most"
ENTRIES = list(entries_in(DEMONSTRATION.content))
BANDS = len(DEMONSTRATION.content["treatments"]["epinephrine-push-dose"]["bands"])
OWN = {"text": "Protocol of the agency, page 12", "mark": "read"}


def change(entry: str, numbers: dict[str, tuple[str, str]], **more: Any) -> Amendment:
    before = entry_in(DEMONSTRATION.content, entry) or {}
    return Amendment(entry=entry, numbers=numbers, reason="a reason", before=before, **{**OWN, **more})


def test_every_entry_with_numbers_can_be_changed_but_those_of_recipes():
    number = {"value": 1, "unit": "mg", "source": "s"}
    bands = [{"most": {"amount": "2 mg", "source": "s"}}, {"text": "x", "source": "s"}, number]
    ages = {"by_age": {"one": 1, "two": 2.5}, "source": "s"}
    content = {"a": number, "b": {"value": 1}, "t": {"bands": bands, "recipe": number, "mixes": [number], "c": ages}}

    assert list(entries_in(content)) == ["a", "t.bands.0.most", "t.bands.2", "t.c"]
    assert [each[:2] for each in map(tuple, numbers_of(ages))] == [("by_age.one", "1"), ("by_age.two", "2.5")]


def test_only_the_numbers_and_their_source_become_others() -> None:
    content = amended(DEMONSTRATION.content, [change(MOST, {"amount": ("15", "mcg")})], version="2")
    after = reader.loads(tomli_w.dumps(content))

    told = {each.entry: (each.before, each.after) for each in changes(DEMONSTRATION, after)}
    assert told.keys() == {"version", "sources › changed-1", MOST.replace("bands.1", "bands.2").replace(".", " › ")}
    assert after.treatments["epinephrine-push-dose"].bands[1].most.amount.value == 15  # type: ignore[union-attr]
    assert after.sources["changed-1"].text == OWN["text"]
    assert DEMONSTRATION.content["version"] == "1"


@pytest.mark.parametrize(
    ("entry", "numbers"),
    [
        (MOST, [("amount", "20", "mcg", True)]),
        ("treatments.epinephrine-push-dose.interval", [("value", "2", "min", False)]),
        ("treatments.epinephrine-push-dose.lasts", [("least", "5", "", False), ("most", "10", "", False)]),
        ("goals.0", [("floor", "100", "", False), ("from_years", "50", "", False), ("under_years", "70", "", False)]),
        ("sources.choice", None),
        ("treatments.epinephrine-push-dose", None),
        (f"treatments.epinephrine-push-dose.bands.{BANDS}.hard", None),
        ("treatments.epinephrine-push-dose.bands.-1.hard", None),
        ("treatments.nothing", None),
        ("", None),
    ],
)
def test_what_numbers_an_entry_holds(entry: str, numbers: list[tuple[Any, ...]] | None) -> None:
    table = entry_in(DEMONSTRATION.content, entry)

    assert (table and [tuple(each) for each in numbers_of(table)]) == numbers


@few
@given(st.sampled_from(ENTRIES))
def test_the_same_numbers_and_source_change_nothing(entry: str) -> None:
    table = entry_in(DEMONSTRATION.content, entry)
    assert table is not None
    same = {each.key: (each.value, each.unit) for each in numbers_of(table)}

    content = amended(DEMONSTRATION.content, [change(entry, same, source=table["source"])])

    written = tomllib.loads(tomli_w.dumps(content))
    assert written == DEMONSTRATION.content


@pytest.mark.parametrize("text", ["", "ten", "1,5", "1e3", "nan", "-", "1.", "9" * 12])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(BadNumber, match="is not a number"):
        amended(DEMONSTRATION.content, [change(MOST, {"amount": (text, "mcg")})])


def test_an_entry_that_is_another_now_is_left_as_it_is() -> None:
    first = amended(DEMONSTRATION.content, [change(MOST, {"amount": ("15", "mcg")})])
    late = change(MOST, {"amount": ("18", "mcg")})

    assert not is_stale(DEMONSTRATION.content, late)
    assert is_stale(first, late)
    assert amended(first, [late]) == first


def test_one_source_told_twice_is_one_source() -> None:
    least = "treatments.epinephrine-push-dose.bands.1.least"
    both = [change(MOST, {"amount": ("15", "mcg")}), change(least, {"amount": ("5", "mcg")})]

    content = amended(DEMONSTRATION.content, both)

    assert content["sources"].keys() - DEMONSTRATION.content["sources"].keys() == {"changed-1"}


def test_no_number_of_a_recipe_is_changed_alone() -> None:
    """Its steps, its stock and what it makes hang together."""
    assert any(treatment.recipe for treatment in DEMONSTRATION.treatments.values())
    assert not [entry for entry in ENTRIES if ".recipe" in entry or ".mixes" in entry]


@pytest.mark.parametrize(("value", "number"), [("3", 3), ("2.5", 2.5)])
def test_a_plain_number_stays_one(value: str, number: float) -> None:
    wait = "treatments.epinephrine-push-dose.interval"
    content = amended(DEMONSTRATION.content, [change(wait, {"value": (value, "min")})])

    assert content["treatments"]["epinephrine-push-dose"]["interval"]["value"] == number
    assert type(content["treatments"]["epinephrine-push-dose"]["interval"]["value"]) is type(number)


def test_a_number_within_an_entry_is_changed_at_its_place() -> None:
    content = amended(
        DEMONSTRATION.content, [change("treatments.naloxone.wants.0", {"below_by_who.child": ("14", "")})]
    )
    wants = content["treatments"]["naloxone"]["wants"][0]

    assert wants["below_by_who"]["child"] == 14
    assert wants.keys() == DEMONSTRATION.content["treatments"]["naloxone"]["wants"][0].keys()


def test_an_amount_keeps_its_unit() -> None:
    content = amended(DEMONSTRATION.content, [change(MOST, {"amount": ("15", "mcg")})])

    assert content["treatments"]["epinephrine-push-dose"]["bands"][1]["most"]["amount"] == "15 mcg"
