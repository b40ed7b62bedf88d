"""Rule sets: what loads, what does not, and that every number has its source."""

import re
import subprocess
import sys
from typing import Any

import pytest

from dosing.load import reader
from dosing.load.faults import RuleSetFaults
from dosing.load.reader import SHIPPED
from dosing.rules.plain import plain
from tests.dosing.bedside import CONSERVATIVE, RULES

DEMONSTRATION = (SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
# The treatments that the contract names; a rule set may know more.
TWENTY = {
    *(
        "crystalloid-bolus",
        "epinephrine-push-dose",
        "phenylephrine-push-dose",
        "epinephrine-im",
        "epinephrine-infusion",
    ),
    *(
        "norepinephrine-infusion",
        "dopamine-infusion",
        "phenylephrine-infusion",
        "vasopressin-infusion",
        "blood-product",
    ),
    *("tranexamic-acid", "calcium-chloride", "calcium-gluconate", "hydrocortisone", "atropine"),
    *("dextrose", "naloxone", "ketamine", "fentanyl", "midazolam"),
}
MARKS = {"read", "second-hand", "memory", "our choice"}


def changed(old: str, new: str) -> list[Any]:
    """The faults of the demonstration rules with one entry changed."""
    assert old in DEMONSTRATION
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(DEMONSTRATION.replace(old, new, 1), "draft.toml")
    return refused.value.faults


def test_the_shipped_rules_name_the_twenty_treatments_and_both_the_same():
    assert set(RULES.treatments) >= TWENTY
    assert set(CONSERVATIVE.treatments) == set(RULES.treatments)


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_both_are_called_demonstrations_and_leave_it_to_the_agency_to_say_who_approved_them(rules):
    assert "demonstration rules" in rules.title.lower()
    assert "approved" not in rules.title


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_every_number_of_the_answer_stands_beside_a_source(rules):
    """Whichever table holds a number, or an amount, holds a source with its mark, or is one amount of such a table."""
    answer = plain(rules)

    for part in ("goals", "treatments", "pressure", "watch", "flow", "syringes"):
        assert list(unsourced(answer[part], sourced=False, path=part)) == []


def unsourced(value: Any, *, sourced: bool, path: str) -> Any:
    if isinstance(value, dict):
        here = sourced or value.get("source", {}).get("mark") in MARKS
        for key, item in value.items():
            yield from unsourced(item, sourced=here, path=f"{path}.{key}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from unsourced(item, sourced=sourced, path=f"{path}.{number}")
    elif isinstance(value, (int, float)) and not isinstance(value, bool) and not sourced:
        yield path


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_no_source_is_left_unsaid(rules):
    for source in rules.sources.values():
        assert source.text
        assert source.mark in MARKS


def test_the_same_rules_have_the_same_digest_whatever_their_layout():
    spaced = DEMONSTRATION.replace("\n\n", "\n\n\n").replace(" = ", "  =  ")

    assert reader.loads(spaced).digest == RULES.digest
    assert reader.loads(DEMONSTRATION.replace("due_min = 2\n", "due_min = 3\n", 1)).digest != RULES.digest


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_the_text_of_a_set_is_the_whole_set(rules):
    """What is kept of an adopted set must not change when a file that it stood upon does."""
    again = reader.loads(rules.text)

    assert again.digest == rules.digest
    assert again.treatments == rules.treatments
    assert "extends" not in rules.content


@pytest.mark.parametrize(
    ("old", "new", "entry", "words"),
    [
        pytest.param(
            'volume = "9 mL"',
            'volume = "10 mL"',
            "treatments.epinephrine-push-dose.recipe",
            "makes 9.09 mcg per mL, not 10 mcg per mL",
            id="recipe that was not drained",
        ),
        pytest.param(
            'stock = { amount = "0.1 mg/mL"',
            'stock = { amount = "1 mg/mL"',
            "treatments.epinephrine-push-dose.recipe",
            "makes 100 mcg per mL, not 10 mcg per mL",
            id="recipe from the vial that is ten times stronger",
        ),
        pytest.param(
            'hard = { amount = "5 mcg/kg", at_most = "20 mcg"',
            'hard = { amount = "5 mcg/kg", at_most = "200 mcg"',
            "treatments.epinephrine-push-dose.bands.2.hard",
            "hard of a child exceeds the adult's: 150 mcg against 100 mcg for a child of 30 kg",
            id="a child may have more than an adult",
        ),
        pytest.param(
            'hard = { amount = "5 mcg/kg", at_most = "20 mcg"',
            'hard = { amount = "20 mcg"',
            "treatments.epinephrine-push-dose.bands.2.hard",
            "a child has no hard limit per kg",
            id="no hard limit per kg",
        ),
        pytest.param(
            'least = { amount = "10 mcg", source = "push-transport" }',
            'least = { amount = "30 mcg", source = "push-transport" }',
            "treatments.epinephrine-push-dose.bands.1.least",
            "least exceeds most: 30 mcg against 20 mcg for an adult of 30 kg",
            id="least above most",
        ),
        pytest.param(
            'most = { amount = "20 mcg", source = "push-transport" }',
            'most = { amount = "20 mcg" }',
            "treatments.epinephrine-push-dose.bands.1.most",
            "a number lacks its source",
            id="no source",
        ),
        pytest.param(
            'interval = { value = 2, unit = "min", source = "push-transport" }',
            'interval = { value = 2, unit = "min", source = "hearsay" }',
            "treatments.epinephrine-push-dose.interval.source",
            "'hearsay' is not among the sources",
            id="unknown source",
        ),
        pytest.param(
            'most = { amount = "20 mcg", source',
            'moost = { amount = "20 mcg", source',
            "treatments.epinephrine-push-dose.bands.1.moost",
            "is not a known entry",
            id="misspelt limit",
        ),
        pytest.param(
            'least = { amount = "10 mcg", source',
            'least = { amount = "10 µg", source',
            "treatments.epinephrine-push-dose.bands.1.least.amount",
            "is not an amount",
            id="unsafe unit",
        ),
        pytest.param(
            'most = { amount = "20 mcg", source',
            'most = { amount = "20 mL", source',
            "treatments.epinephrine-push-dose",
            "most is stated in mL",
            id="another kind of unit",
        ),
        pytest.param(
            'mark = "our choice" }\ncommon',
            'mark = "surely" }\ncommon',
            "sources.choice.mark",
            "is 'surely', not one of",
            id="unknown mark",
        ),
        pytest.param(
            'hard = { amount = "100 mcg", source = "push-anaphylaxis" }\n',
            "",
            "treatments.epinephrine-push-dose",
            "adult of known weight: no hard limit",
            id="no hard limit at all",
        ),
        pytest.param(
            'most = { amount = "2 mcg/kg"',
            'most = { amount = "0.5 mcg/kg"',
            "treatments.epinephrine-push-dose.bands.2.most",
            "ten times a child's standing limit is within its hard limit: 1.25 mcg, 12.5 mcg for a child of 2.5 kg",
            id="a ten-fold slip would pass",
        ),
    ],
)
def test_a_faulty_rule_set_does_not_load(old, new, entry, words):
    faults = changed(old, new)

    assert any(fault.entry == entry and words in fault.text for fault in faults), faults


def test_all_faults_are_named_at_once_with_file_and_line():
    draft = DEMONSTRATION.replace('volume = "9 mL"', 'volume = "nine mL"', 1).replace(
        "due_min = 2", "due_min = true", 1
    )
    draft = draft.replace('class = "fluid"', 'class = "water"', 1)
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(draft, "draft.toml")

    lines = draft.splitlines()
    found = {fault.entry.rpartition(".")[2]: lines[fault.line - 1] for fault in refused.value.faults}
    assert found["class"] == 'class = "water"'
    assert found["volume"] == 'volume = "nine mL"'
    assert found["due_min"] == "due_min = true"
    assert "draft.toml, line" in str(refused.value)


def test_a_file_that_is_no_toml_is_one_fault_with_its_line():
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads("name = 'draft'\ntitle = \n", "draft.toml")

    assert [fault.line for fault in refused.value.faults] == [2]


def test_a_set_that_stands_upon_another_names_the_line_in_its_own_file():
    own = (SHIPPED / "conservative.toml").read_text(encoding="utf-8")
    draft = own.replace('least = { amount = "5 mcg", source = "push-lower" }', 'least = { amount = "5 mcg" }')
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(draft, "draft.toml")

    assert [draft.splitlines()[fault.line - 1] for fault in refused.value.faults] == ['least = { amount = "5 mcg" }']


@pytest.mark.parametrize("base", ["hearsay", "../rule_sets/demonstration"])
def test_a_set_stands_upon_a_shipped_one_only(base):
    with pytest.raises(RuleSetFaults, match="no rule set"):
        reader.loads(f'extends = "{base}"\nname = "draft"', "draft.toml")


def test_a_text_that_was_cut_off_is_one_fault():
    with pytest.raises(RuleSetFaults) as refused:
        reader.loads(CONSERVATIVE.text[:-1], "kept")

    assert len(refused.value.faults) == 1


def test_rounding_of_the_label_is_allowed_only_where_it_is_said():
    """10 mg into a 100 mL bag is 99 mcg per mL, called 100 (EMCrit; the label says 99 mL of diluent)."""
    words = "makes 99 mcg per mL, not 100 mcg per mL"

    assert any(words in fault.text for fault in changed("nominal = true\n", ""))


def test_reading_a_rule_set_needs_no_framework():
    code = (
        "import sys; from dosing.load.reader import load_shipped; import dosing.tell.guidance; "
        "load_shipped('demonstration'); "
        "print([name for name in sys.modules if name.split('.')[0] in ('django', 'rest_framework', 'consult', 'api')])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert found.stdout.strip() == "[]"


@pytest.mark.parametrize("name", sorted(RULES.treatments))
def test_no_ratio_strength_and_no_unsafe_unit_stands_in_a_text(name):
    treatment = RULES.treatments[name]
    texts = [treatment.title, *(caution.text for caution in treatment.cautions)]

    assert not [text for text in texts if re.search(r"1:1|µg|\bug\b|\bcc\b|\bIU\b|\d\.0\b|(?<!\d)\.\d", text)]


def test_the_treatments_of_each_class_are_those_of_that_class_alone():
    classes = {each.drug_class for each in RULES.treatments.values()}

    assert RULES.of_class.keys() == classes
    for name, slugs in RULES.of_class.items():
        assert {slug for slug, each in RULES.treatments.items() if each.drug_class == name} == slugs
