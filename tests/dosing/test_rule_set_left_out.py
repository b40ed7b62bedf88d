"""A rule set that was adopted before an entry was known still loads: what holds then is said once, with its sources."""

import copy
import json

import pytest

from dosing.load import left_out, reader
from dosing.load.faults import RuleSetFaults
from dosing.load.schema import schema
from dosing.rules.changes import changes
from dosing.rules.plain import plain
from dosing.rules.words import MARKS
from dosing.watch.causes import watch
from tests.dosing.cast import at, case, reading
from tests.dosing.drafts import CONTENT

PLACES = [(table, key) for table, entries in left_out.TABLES.items() for key in entries]
RULES = reader.load_shipped("demonstration")


def without(*places):
    """The demonstration rules without some entries, as an agency may have adopted them."""
    content = copy.deepcopy({**CONTENT, "name": "older"})
    for table, key in places:
        del content[table][key]
    return content


@pytest.mark.parametrize(("table", "key"), PLACES, ids=lambda part: part)
def test_one_entry_may_be_missing(table, key):
    older = reader.loads(json.dumps(without((table, key))))
    held = left_out.TABLES[table][key]
    found = getattr(getattr(older, table), key)

    if isinstance(held, dict):
        assert found == held["value"]
        assert getattr(older, table).sources[key] == older.sources[held["source"]]
    else:
        assert len(found) == len(held)


def test_all_of_them_may_be_missing_and_the_set_alarms():
    older = reader.loads(json.dumps(without(*PLACES)))
    causes = watch(case(reading(0, 230, 90)), older, at(0)).causes

    assert [(each.kind, each.priority) for each in causes] == [("high_pressure", "high")]


def test_its_digest_is_that_of_what_was_adopted():
    content = without(*PLACES)
    older = reader.loads(json.dumps(content))

    assert older.digest == reader.digest(content)
    assert reader.loads(older.text).digest == older.digest


def test_what_a_set_says_decides():
    content = without()
    content["watch"]["request_alarm_s"]["value"] = 90

    assert reader.loads(json.dumps(content)).watch.request_alarm_s == 90


def test_what_holds_is_told_with_its_source_to_whoever_reads_or_replaces_it():
    older = reader.loads(json.dumps(without(("watch", "request_alarm_s"))))
    told = plain(older)["watch"]["request_alarm_s"]

    assert (told["value"], told["source"]["mark"]) == (180, "our choice")
    assert [each.entry for each in changes(older, RULES) if "request_alarm_s" in each.entry] == [
        "watch › request_alarm_s"
    ]


def test_an_entry_that_is_there_and_wrong_is_a_fault_as_before():
    content = without()
    content["watch"]["request_alarm_s"]["value"] = -1
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(json.dumps(content))

    assert "watch.request_alarm_s" in str(refused.value)


def test_a_table_that_is_missing_is_a_fault_of_its_own():
    content = without()
    del content["watch"]
    with pytest.raises(RuleSetFaults, match="watch"):
        reader.loads(json.dumps(content))


def test_the_schema_says_what_may_be_missing():
    defined = schema()["$defs"]

    assert not set(left_out.TABLES["watch"]) & set(defined["WatchRule"]["required"])
    assert set(left_out.TABLES["watch"]) <= set(defined["WatchRule"]["properties"])
    assert "waiting_s" in defined["WatchRule"]["required"]


def test_every_number_of_it_names_one_of_its_sources():
    sources = left_out.CONTENT["sources"]
    named = set(_values(left_out.TABLES, "source"))

    assert named == set(sources)
    assert {each["mark"] for each in sources.values()} <= MARKS
    assert not set(sources) & set(CONTENT["sources"]), "a set's own source may not be taken for one of these"


def _values(content, key):
    for name, value in content.items() if isinstance(content, dict) else enumerate(content):
        if name == key:
            yield value
        elif isinstance(value, (dict, list)):
            yield from _values(value, key)


def test_the_shipped_sets_say_all_of_it_themselves():
    for name in ("demonstration", "conservative"):
        rules = reader.load_shipped(name)
        assert not [each for each in rules.sources if each.startswith("left-out")]
