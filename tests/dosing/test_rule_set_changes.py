"""What one rule set changes against another, as the person who approves it reads it. The drafts are our own."""

from types import SimpleNamespace

import pytest

from dosing.load import reader
from dosing.load.reader import SHIPPED
from dosing.rules.changes import Change, changes
from dosing.rules.words import MARKS_TOLD
from tests.dosing.bedside import CONSERVATIVE, RULES

TEXT = (SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
HARD = 'hard = { amount = "10 mg", source = "naloxone-total" }'
CHILD = 'hard = { amount = "0.5 mg/kg", at_most = "2 mg", source = "choice" }'
SPRAY = (
    '    { amount = "40 mg/mL", name = "nasal spray, 4 mg in 0.1 mL", whole = "4 mg", '
    'routes = ["IN"], source = "naloxone-spray" },\n'
)
ROUTES = 'routes = ["IV", "IO", "IM", "IN", "SC"]\nunit = "mg"\nunits = ["mg", "mg/kg", "mcg", "mcg/kg"]'
CAUTION = "The aim is breathing, not waking; it wears off before the opioid."
RELEVANT = 'allergens = ["naloxone"]\nrelevant = []'
TOTAL, LABEL, CHOICE, SPRAYED = (
    f"{RULES.sources[each].text} [{MARKS_TOLD[RULES.sources[each].mark]}]"
    for each in ("naloxone-total", "naloxone-label", "choice", "naloxone-spray")
)


def changed(old: str, new: str) -> list[tuple[str, str | None, str | None]]:
    """What a draft changes that is the demonstration set but for these words."""
    assert TEXT.count(old) == 1
    found = changes(RULES, reader.loads(TEXT.replace(old, new), "draft.toml"))
    return [(change.entry, change.before, change.after) for change in found]


def test_a_set_changes_nothing_against_itself():
    assert changes(RULES, reader.loads(TEXT, "draft.toml")) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            HARD,
            HARD.replace("10 mg", "8 mg"),
            ("bands › 2 › hard", f"amount 10 mg; source {TOTAL}", f"amount 8 mg; source {TOTAL}"),
        ),
        (
            CHILD,
            CHILD.replace("0.5 mg/kg", "0.25 mg/kg"),
            (
                "bands › 3 › hard",
                f"amount 0.5 mg/kg; at most 2 mg; source {CHOICE}",
                f"amount 0.25 mg/kg; at most 2 mg; source {CHOICE}",
            ),
        ),
        (
            SPRAY,
            "",
            (
                "stocks › 3",
                f"amount 40 mg per mL; name nasal spray, 4 mg in 0.1 mL; whole 4 mg; routes IN; source {SPRAYED}",
                None,
            ),
        ),
        (
            SPRAY,
            SPRAY + '    { amount = "2 mg/mL", source = "choice" },\n',
            ("stocks › 4", None, f"amount 2 mg per mL; source {CHOICE}"),
        ),
        (
            ROUTES,
            ROUTES.replace('["IV", "IO", "IM", "IN", "SC"]', '["IV", "IM", "IN"]'),
            ("routes", "IV, IO, IM, IN, SC", "IV, IM, IN"),
        ),
        (RELEVANT, RELEVANT.replace("[]", '["septic"]'), ("relevant", "none", "septic")),
        (
            CAUTION,
            "Breathing, not waking.",
            ("cautions › 1", f"text {CAUTION}; source {LABEL}", f"text Breathing, not waking.; source {LABEL}"),
        ),
    ],
    ids=["a limit", "a limit with its cap", "left out", "put in", "a list of words", "none before", "a sentence"],
)
def test_a_change_is_told_by_its_entry_as_it_was_and_as_it_becomes(old, new, told):
    entry, before, after = told

    assert changed(old, new) == [(f"treatments › naloxone › {entry}", before, after)]


def test_what_is_yes_or_no_is_told_so():
    wants = 'measurement = "rr"\nbelow = 12\nbelow_by_who = { child = 15 }\nopens = true\nungated = true'

    assert changed(wants, wants.replace("opens = true", "opens = false")) == [
        ("treatments › naloxone › wants › 1 › opens", "yes", "no")
    ]


def test_the_other_set_that_ships_is_told_from_its_name_to_its_last_band():
    """The lower limits where published ones differ: 5 mcg an adult's push, 3 pushes before an order."""
    told = {change.entry: change for change in changes(RULES, CONSERVATIVE)}

    assert told["name"] == Change("name", "demonstration", "conservative")
    assert told["sources › push-lower"].before is None
    assert "least (amount 5 mcg; source Push-dose" in told["treatments › epinephrine-push-dose › bands › 4"].after
    assert "count (value 3; unit pushes; source More" in told["treatments › epinephrine-push-dose › bands › 5"].after
    assert all(change.before != change.after for change in told.values())


def between(old, new):
    """The changes between two contents, of which only the tables and the sources are looked at."""
    known = {"choice": RULES.sources["choice"]}
    before, after = (SimpleNamespace(content=content, sources=known) for content in (old, new))
    return [(change.entry, change.before, change.after) for change in changes(before, after)]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ({"a": 1}, {"a": 1}, []),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}, []),
        ({"t": {"a": {"x": 1, "y": 2}}}, {"t": {"a": {"y": 2, "x": 1}}}, []),
        ({"a": 1}, {"a": 1.0}, [("a", "1", "1.0")]),  # written otherwise, so the digest is another one
        ({"a": 1}, {"a": True}, [("a", "1", "yes")]),
        ({"a": False}, {}, [("a", "no", None)]),
        ({}, {"a": [], "b": ["x", "y"]}, [("a", None, "none"), ("b", None, "x, y")]),
        ({"a": {"x": 1}}, {"a": {"x": 2}}, [("a", "x 1", "x 2")]),
        ({"a": {"x": {"n": 1}, "y": 1}}, {"a": {"x": {"n": 2}, "y": 1}}, [("a › x", "n 1", "n 2")]),
        ({"a": {"x": {"n": 1}}}, {"a": {"x": 3}}, [("a › x", "n 1", "3")]),
        ({"a": {"x": 3}}, {"a": {"x": {"n": 1}}}, [("a › x", "3", "n 1")]),
        ({"a": {"x": 3}}, {"a": {"x": [{"n": 1}]}}, [("a › x", "3", "n 1")]),
        ({"a": {"x": [{"n": 1}]}}, {"a": {"x": ["word"]}}, [("a › x", "n 1", "word")]),
        ({"a": {"x": ["word"]}}, {"a": {"x": [{"n": 1}]}}, [("a › x", "word", "n 1")]),
        ({"a": [{"n": 1}, {"n": 2}]}, {"a": [{"n": 1}, {"n": 3}]}, [("a › 2", "n 2", "n 3")]),
        ({"a": [{"n": 1}, {"n": 2}]}, {"a": [{"n": 2}]}, [("a › 1", "n 1", None)]),
        ({"a": [{"n": 2}]}, {"a": [{"n": 1}, {"n": 2}, {"n": 4}]}, [("a › 1", None, "n 1"), ("a › 3", None, "n 4")]),
        (
            {"a": [{"n": 0}, {"n": 1}, {"n": 2}, {"n": 9}]},
            {"a": [{"n": 0}, {"n": 3}, {"n": 4}, {"n": 9}]},
            [("a › 2", "n 1", "n 3"), ("a › 3", "n 2", "n 4")],
        ),
        (
            {"a": [{"n": 0}, {"n": 1}, {"n": 9}]},
            {"a": [{"n": 3}, {"n": 4}, {"n": 5}, {"n": 9}]},
            [
                *(("a › 1", "n 0", None), ("a › 2", "n 1", None)),
                *(("a › 1", None, "n 3"), ("a › 2", None, "n 4"), ("a › 3", None, "n 5")),
            ],
        ),
        (
            {"a": [{"m": {"amount": "10 mg", "source": "choice"}}]},
            {"a": [{"m": {"amount": "12 mg", "source": "choice"}}]},
            [("a › 1 › m", f"amount 10 mg; source {CHOICE}", f"amount 12 mg; source {CHOICE}")],
        ),
        ({"starts_by_order": "choice"}, {"starts_by_order": "nobody"}, [("starts_by_order", CHOICE, "nobody")]),
        ({"cosign": "choice"}, {"cosign": "nobody"}, [("cosign", CHOICE, "nobody")]),
        ({"b": {"x": [{"n": 1}], "volume": "1 mL"}}, {"b": {"x": [{"n": 1}], "volume": "1000 mL"}},
         [("b › volume", "1 mL", "1,000 mL")]),
        ({"name": "choice"}, {"name": "other"}, [("name", "choice", "other")]),
        ({"a": ["choice"]}, {"a": [{"source": "choice"}]}, [("a", "choice", f"source {CHOICE}")]),
        ({"a": {"volume": "1 mL"}}, {"a": {"volume": "2 mL", "at_least": "1 mg/mL"}},
         [("a", "volume 1 mL", "volume 2 mL; at least 1 mg per mL")]),
        ({"a": {"amount": 3}}, {"a": {"amount": "1000 mg"}}, [("a", "amount 3", "amount 1 g")]),
    ],
    ids=str,
)  # fmt: skip
def test_every_kind_of_entry_is_told_by_itself(old, new, told):
    assert between(old, new) == told


def test_a_list_of_many_is_compared_item_by_item():
    """Two hundred items and more: an item that stands often is compared like any other."""
    old = [{"n": number % 2} for number in range(250)]
    new = [{"n": 7}, *old]

    assert between({"a": old}, {"a": new}) == [("a › 1", None, "n 7")]
