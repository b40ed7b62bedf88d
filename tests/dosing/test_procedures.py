"""Settings of pacing and shocks: what a crew is told for whom, against published energies, and what is refused."""

from __future__ import annotations

import pytest

from dosing.load.faults import RuleSetFaults
from dosing.load.reader import read_text
from dosing.rules.plain import source_text
from dosing.tell.procedures import usual_settings
from tests.dosing.bedside import CONSERVATIVE, RULES, adult, child
from tests.dosing.dosing_values import ROWS

TABLE = [row for row in ROWS.values() if row["topic"] == "settings"]


def told(patient, rules=RULES):
    return {(each.procedure, each.title): each.text for each in usual_settings(patient, rules)}


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize("row", [pytest.param(row, id=row["id"]) for row in TABLE])
def test_the_published_energies_rates_and_outputs_are_told(row, rules):
    words = row["population"].split()
    weight = None if "unknown" in words else float(words[words.index("kg") - 1])
    patient = adult(weight) if words[0] == "adult" else child(float(words[1]), weight)
    procedure, _, title = row["input"].partition(": ")
    (found,) = [text for (name, of), text in told(patient, rules).items() if name == procedure and title in of]

    assert row["expected"] in found


def test_only_what_beats_is_shocked_with_the_beat():
    for patient in (adult(), child()):
        for (procedure, _), text in told(patient).items():
            modes = [mode for mode in ("not synchronized", "synchronized") if mode in text][:1]
            wanted = {"pacing": [], "cardioversion": ["synchronized"], "defibrillation": ["not synchronized"]}
            assert modes == wanted[procedure]


def test_a_child_is_never_shocked_with_more_than_the_most():
    """2 and 4 J/kg: a child of 100 kg, not yet 12, would get 400 J."""
    (text,) = [text for (name, _), text in told(child(11, 100)).items() if name == "defibrillation"]

    assert text == "200 J (2 J/kg), then 200 J (4 J/kg), not synchronized"


def test_settings_are_told_in_full_with_their_source():
    """0.5-1, then 2 J/kg at 18 kg (life support, children)."""
    (found,) = [each for each in usual_settings(child(), RULES) if each.procedure == "cardioversion"]
    rule = next(each for each in RULES.procedures if (each.procedure, each.who) == ("cardioversion", "child"))

    assert found.text == "18 J (1 J/kg), then 36 J (2 J/kg), synchronized"
    assert found.source == source_text(rule.source) != ""


PACING = """
extends = "demonstration"
[[procedures]]
procedure = "pacing"
title = "a slow heart"
who = "adult"
source = "choice"
rate = { value = 70, unit = "beats per min", source = "choice" }
"""
SHOCK = """
extends = "demonstration"
[[procedures]]
procedure = "defibrillation"
title = "no pulse"
who = "adult"
source = "choice"
"""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (PACING, "of which the settings are missing"),
        (PACING + 'output_ma = { value = 50, unit = "J", source = "choice" }', "mA"),
        (SHOCK, "of which the settings are missing"),
        (SHOCK.replace("defibrillation", "cpr"), "cpr"),
        (
            SHOCK
            + 'first_j = { value = 200, unit = "J", source = "choice" }\n'
            + 'next_j = { value = 100, unit = "J", source = "choice" }',
            "is less than the first shock",
        ),
    ],
    ids=["no output", "another unit", "no energy", "no such procedure", "less the second time"],
)
def test_settings_that_make_no_sense_are_refused_with_their_entry(text, words):
    with pytest.raises(RuleSetFaults) as refused:
        read_text(text, "draft.toml")

    assert all(fault.entry.startswith("procedures.") for fault in refused.value.faults)
    assert words in str(refused.value)
