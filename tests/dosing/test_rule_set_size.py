"""A rule set file costs no more to read than a rule set: what is larger is refused before its entries are looked at."""

from __future__ import annotations

import pytest

from dosing.load import reader
from dosing.load.book import MOST_FAULTS
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.reader import read_text
from dosing.load.size import MOST_DEPTH, MOST_DIGITS, MOST_ENTRIES, TOO_DEEP, TOO_MANY_DIGITS, fault_of

WHOLE = (reader.SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
OWN = (reader.SHIPPED / "conservative.toml").read_text(encoding="utf-8")
TOO_MANY = f"the file holds more than {MOST_ENTRIES:,} entries"


def with_number(text: str) -> str:
    """The demonstration with another figure in its first entry of value 3."""
    return WHOLE.replace("value = 3,", f"value = {text},", 1)


def with_amount(text: str) -> str:
    return WHOLE.replace('amount = "100 mcg"', f'amount = "{text}"', 1)


def faults(text: str) -> list[Fault]:
    with pytest.raises(RuleSetFaults) as refused:
        read_text(text, "draft.toml")
    return refused.value.faults


@pytest.mark.parametrize(
    ("text", "told"),
    [
        pytest.param(with_number("9" * 21), TOO_MANY_DIGITS, id="21 digits"),
        pytest.param(with_number("9" * 5000), TOO_MANY_DIGITS, id="more digits than Python reads"),
        pytest.param(with_number("0x" + "f" * 5000), TOO_MANY_DIGITS, id="thousands of hexadecimal digits"),
        pytest.param(with_number("0." + "1" * 30), TOO_MANY_DIGITS, id="30 digits behind the point"),
        pytest.param(with_number("1e400"), "1e400 is too large a number", id="a number beyond a double"),
        pytest.param('{"a": 1e400}', "1e400 is too large a number", id="a number beyond a double, in JSON"),
        pytest.param('{"a": ' + "9" * 5000 + "}", TOO_MANY_DIGITS, id="thousands of digits, in JSON"),
        pytest.param("a" + ".b" * 10 + " = 1", TOO_DEEP, id="dotted keys"),
        pytest.param("a = " + "{ b = " * 10_000 + "1" + " }" * 10_000, TOO_DEEP, id="tables in tables"),
        pytest.param("a = " + "[" * 10 + "]" * 10, TOO_DEEP, id="lists in lists"),
        pytest.param("a = " + "[" * 100_000 + "]" * 100_000, TOO_DEEP, id="lists in lists without end"),
        pytest.param(OWN + "".join(f'\n["x{n}"]' for n in range(MOST_ENTRIES)), TOO_MANY, id="unknown quoted keys"),
        pytest.param("a = [" + "1," * MOST_ENTRIES + "]", TOO_MANY, id="a list without end"),
    ],
)
def test_what_no_rule_set_holds_is_told_in_one_sentence(text: str, told: str) -> None:
    assert [fault.text for fault in faults(text)] == [told]


@pytest.mark.parametrize("amount", ["1e400 mcg", "1e300 mcg", "9" * 400 + " mcg", "nan mcg", "inf mcg"])
def test_an_amount_that_is_no_number_is_a_fault_of_its_entry(amount: str) -> None:
    found = faults(with_amount(amount))
    assert any(fault.entry.endswith("amount") and "is not an amount" in fault.text for fault in found)


def test_of_very_many_faults_the_first_are_told() -> None:
    found = faults(OWN + "".join(f'\n["x{n}"]' for n in range(2 * MOST_FAULTS)))
    assert len(found) == MOST_FAULTS + 1
    assert found[-1].text == "has more faults: mend these first"


def test_the_rule_sets_that_ship_have_room_to_grow() -> None:
    content = reader.load_shipped("demonstration").content
    assert fault_of(content) == ""
    assert fault_of({"sources": {str(number): content["sources"] for number in range(100)}}) == TOO_MANY
    assert fault_of([0] * (MOST_ENTRIES - 1)) == ""
    assert fault_of([0] * MOST_ENTRIES) == TOO_MANY
    assert fault_of(_nested(MOST_DEPTH)) == ""
    assert fault_of(_nested(MOST_DEPTH + 1)) == TOO_DEEP
    assert fault_of({"a": 10**MOST_DIGITS - 1}) == ""
    assert fault_of({"a": -(10**MOST_DIGITS)}) == TOO_MANY_DIGITS


def _nested(depth: int) -> object:
    return {"a": _nested(depth - 1)} if depth else 1
