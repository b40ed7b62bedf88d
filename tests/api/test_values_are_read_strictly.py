"""Numbers, times, ids, texts and amounts: contract, "Ground rules"."""

import sys
import unicodedata
from datetime import UTC, datetime, timedelta, timezone

import pytest
from rest_framework.exceptions import ValidationError

from api.fields import AmountEntry, Choice, Flag, Id, Number, Text, Time
from api.serializers import cases
from api.serializers.notes import NoteEntry
from api.shape import Shape
from dosing.rules.words import HISTORY, IMPRESSIONS, INJURIES

NOW = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)


def codes(reader, value):
    """The codes of the faults that reading a value finds; empty where it is read."""
    try:
        reader.run_validation(value)
    except ValidationError as fault:
        found = fault.get_codes()
        return found if isinstance(found, list) else dict(found)
    return []


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        (10, 10),
        (10.0, 10),
        ("10", 10),
        ("10.0", 10),
        ("0.02", 0.02),
        (0.02, 0.02),
        ("-0.5", -0.5),
        ("0.123456789012345", 0.123456789012345),
        ("100000000.000000", 100000000),
    ],
)
def test_a_number_is_a_json_number_or_a_decimal_text(sent, read):
    value = Number().run_validation(sent)
    assert value == read
    assert isinstance(value, int) == float(read).is_integer(), "10, 10.0 and “10” are the same content"


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        ("ten", "not_a_number"),
        ("", "not_a_number"),
        (" 10", "not_a_number"),
        ("1e3", "not_a_number"),
        ("+1", "not_a_number"),
        (".5", "not_a_number"),
        ("１０", "not_a_number"),
        ("NaN", "not_a_number"),
        (True, "not_a_number"),
        ([], "not_a_number"),
        ({}, "not_a_number"),
        ("0.1234567890123456", "too_many_digits"),
        (10**15, "out_of_range"),
        (None, "null"),
    ],
)
def test_anything_else_is_no_number(sent, code):
    assert codes(Number(), sent) == [code]


@pytest.mark.parametrize(
    ("sent", "offset_minutes"),
    [
        ("2030-01-05T10:00:00Z", 0),
        ("2030-01-05T11:00:00+01:00", 60),
        ("2030-01-05T04:30:00.123456-05:30", -330),
        ("2030-01-05t10:00:00.123456789z", 0),
    ],
)
def test_a_time_keeps_the_offset_it_was_sent_with(sent, offset_minutes):
    time = Time().run_validation(sent)
    assert time.replace(microsecond=0).astimezone(UTC) == NOW
    assert time.utcoffset() == timedelta(minutes=offset_minutes)
    assert time.tzinfo == timezone(timedelta(minutes=offset_minutes))


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        ("2030-01-05T10:00:00", "no_offset"),
        ("2030-01-05", "not_a_time"),
        ("10:00", "not_a_time"),
        ("20300105T100000Z", "not_a_time"),
        ("2030-W01-6T10:00:00Z", "not_a_time"),
        ("2030-02-30T10:00:00Z", "not_a_time"),
        ("2030-01-05T24:00:01Z", "not_a_time"),
        ("0001-01-01T00:00:00+14:00", "not_a_time"),
        ("9999-12-31T23:59:59-14:00", "not_a_time"),
        (1893837600, "not_a_time"),
        (True, "not_a_time"),
    ],
)
def test_a_time_without_offset_or_sense_is_refused(sent, code):
    assert codes(Time(), sent) == [code]


@pytest.mark.parametrize(
    ("at", "sent_at", "refused"),
    [
        pytest.param(timedelta(minutes=2), None, False, id="2 min ahead"),
        pytest.param(timedelta(minutes=2, seconds=1), None, True, id="more than 2 min ahead"),
        pytest.param(timedelta(minutes=30), timedelta(minutes=30), False, id="the sender's clock is 30 min ahead"),
        pytest.param(timedelta(minutes=33), timedelta(minutes=30), True, id="ahead of the sender's own clock"),
        pytest.param(timedelta(minutes=0), timedelta(minutes=-30), True, id="the sender's clock is 30 min behind"),
        pytest.param(timedelta(days=-3), None, False, id="long ago"),
    ],
)
def test_a_time_ahead_is_refused_after_correction_by_the_senders_clock(at, sent_at, refused):
    body = {"text": "on the way", "at": (NOW + at).isoformat()}
    if sent_at is not None:
        body["sent_at"] = (NOW + sent_at).isoformat()
    if not refused:
        read = NoteEntry.read(body, NOW)
        assert (read["text"], read["at"]) == ("on the way", NOW + at)
        assert read.get("clock_offset_s") == (sent_at and -sent_at.total_seconds())
        return
    with pytest.raises(ValidationError) as found:
        NoteEntry.read(body, NOW)
    assert found.value.get_codes() == {"at": ["time_in_future"]}


@pytest.mark.parametrize(
    ("amount", "faults"),
    [
        ({"value": 10, "unit": "mcg"}, []),
        ({"value": "0.02", "unit": "mg"}, []),
        ({"value": 0.1, "unit": "mcg/kg/min"}, []),
        ({"value": 30, "unit": "mL/h"}, []),
        ({"value": 1, "unit": "bag"}, []),
        ({"value": 0.04, "unit": "units/min"}, []),
        ({"value": 0, "unit": "mcg"}, {"value": ["not_above"]}),
        ({"value": -1, "unit": "mcg"}, {"value": ["not_above"]}),
        ({"value": "ten", "unit": "mcg"}, {"value": ["not_a_number"]}),
        ({"value": 10, "unit": "furlong"}, {"unit": ["invalid_choice"]}),
        ({"value": 10, "unit": "MCG"}, {"unit": ["invalid_choice"]}),
        ({"value": 10, "unit": "µg"}, {"unit": ["invalid_choice"]}),
        ({"value": 10, "unit": ["mcg"]}, {"unit": ["invalid_choice"]}),
        ({"value": 10}, {"unit": ["required"]}),
        ({"unit": "mcg"}, {"value": ["required"]}),
        ({"value": 10, "unit": "mcg", "per": "kg"}, {"per": ["unknown_field"]}),
        ("10 mcg", {"non_field_errors": ["not_an_object"]}),
        (10, {"non_field_errors": ["not_an_object"]}),
        (None, ["null"]),
    ],
)
def test_an_amount_is_a_number_above_zero_and_a_known_unit(amount, faults):
    assert codes(AmountEntry(), amount) == faults


@pytest.mark.parametrize("sent", ["0190A2B4-0000-7000-8000-000000000000", "0190a2b4-0000-7000-8000-000000000000"])
def test_an_id_is_a_uuid(sent):
    assert str(Id().run_validation(sent)) == sent.lower()


@pytest.mark.parametrize(
    "sent", [7, "", "7", "0190a2b4000070008000000000000000", "urn:uuid:0190a2b4-0000-7000-8000-000000000000", None, []]
)
def test_another_spelling_is_no_id(sent):
    assert codes(Id(), sent)


@pytest.mark.parametrize(
    "text", ["a\x00b", "a\x1b[31m", "a\u202eb", "a\u2066b", "a\u200fb", "a\u2028b", "a\ufeffb", "a\x7fb"]
)
@pytest.mark.parametrize("lines", [False, True], ids=["one line", "lines"])
def test_unseen_characters_are_refused(text, lines):
    assert codes(Text(100, lines=lines), text)


# The Unicode Character Database as Python ships it (unicodedata): format characters draw nothing, but for the signs
# that stand around a number or a word (PropList.txt, Prepended_Concatenation_Mark) and marks of old notations.
DRAWN = "\u0600\u0601\u0602\u0603\u0604\u0605\u06dd\u070f\u0890\u0891\u08e2\U000110bd\U000110cd"


def test_two_names_that_look_the_same_are_the_same():
    drawing_nothing = [
        chr(code)
        for code in range(sys.maxunicode + 1)
        if unicodedata.category(chr(code)) == "Cf" and chr(code) not in DRAWN and not 0x13430 <= code <= 0x1345F
    ]
    fillers = ["\u034f", "\u115f", "\u3164", "\uffa0", "\ufe0f", "\u2800"]
    assert len(drawing_nothing) > 130
    assert [text for text in [*drawing_nothing, *fillers] if codes(Text(40), f"A{text}") != ["unseen"]] == []


@pytest.mark.parametrize(
    "text", ["نمی\u200cدانم", "\u2764\ufe0f", "\U0001f468\u200d\u2695\ufe0f"], ids=["word", "heart", "medic"]
)
def test_what_is_told_in_words_may_be_written_with_joiners(text):
    assert Text(500).run_validation(text) == text
    assert Text(2000, lines=True).run_validation(text) == text


def test_line_breaks_belong_to_notes_alone():
    assert codes(Text(100), "one\ntwo") == ["unseen"]
    assert Text(100, lines=True).run_validation("one\n\ttwo") == "one\n\ttwo"


@pytest.mark.parametrize("text", [7, True, ["a"], None, "   ", "x" * 101])
def test_a_text_is_a_json_string_of_some_length(text):
    assert codes(Text(100), text)


@pytest.mark.parametrize("sent", ["true", 1, 0, None, []])
def test_a_flag_is_true_or_false(sent):
    assert codes(Flag(), sent)


def test_a_choice_is_spelt_exactly():
    assert codes(Choice(("septic",)), "Septic") == ["invalid_choice"]
    assert codes(Choice(("1",)), 1) == ["invalid_choice"]


class Pair(Shape):
    first = Number()
    second = Number(required=False)
    third = Flag(default=False)


@pytest.mark.parametrize(
    ("body", "read"),
    [
        ({"first": 1}, {"first": 1, "third": False}),
        ({"first": 1, "second": 2, "third": True}, {"first": 1, "second": 2, "third": True}),
    ],
)
def test_a_shape_leaves_out_what_was_not_sent(body, read):
    assert Pair().run_validation(body) == read


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        ({}, {"first": ["required"]}),
        ({"first": 1, "frist": 1}, {"frist": ["unknown_field"]}),
        (
            {"first": "x", "second": "y", "": 1},
            {"first": ["not_a_number"], "second": ["not_a_number"], "": ["unknown_field"]},
        ),
        ([], {"non_field_errors": ["not_an_object"]}),
        ("first", {"non_field_errors": ["not_an_object"]}),
    ],
)
def test_a_shape_names_every_fault(body, faults):
    assert codes(Pair(), body) == faults


def test_one_bound_shape_serves_all_requests():
    assert NoteEntry.shared() is NoteEntry.shared()
    assert type(NoteEntry.shared()) is NoteEntry


@pytest.mark.parametrize(
    ("words", "choices"),
    [
        (IMPRESSIONS, cases.IMPRESSIONS),
        (INJURIES, cases.INJURIES),
        (HISTORY, cases.HISTORY),
    ],
    ids=["impressions", "injuries", "history"],
)
def test_a_rule_may_name_whatever_is_read(words, choices):
    assert words == set(choices)


def test_a_weight_out_of_range_is_refused_with_its_unit():
    faults = cases.WeightEntry(data={"value": 500, "unit": "kg"})

    assert not faults.is_valid()
    assert str(faults.errors["value"][0]) == "Must be from 0.3 to 400 kg."
