"""What stands on a label: published letters, published colors, times, totals, and nothing that can be misread."""

from datetime import timedelta

import pytest

from dosing.ground import tables
from dosing.ground.facts import Amount
from dosing.mix import labels
from tests.dosing.bedside import RULES, TEN
from tests.dosing.label_cast import EVERY, all_labels, texts
from tests.error_prone import find

# FDA and ISMP lists of look-alike drug names with recommended tall man letters (list of 2023, as its page gives it):
# DOBUTamine, DOPamine, hydrALAZINE in table 1, cefTRIAXone (in the list of 2008), EPINEPHrine, fentaNYL in table 2
# The others on neither as far as read.
TALL_MAN = {
    "ceftriaxone": "cefTRIAXone",
    "dobutamine": "DOBUTamine",
    "dopamine": "DOPamine",
    "epinephrine": "EPINEPHrine",
    "fentanyl": "fentaNYL",
    "hydralazine": "hydrALAZINE",
    "methylprednisolone": "methylPREDNISolone",  # table 1, from memory
    "nicardipine": "niCARdipine",  # table 1, from memory
}
# ISO 26825:2020, table of background colors (read second-hand, on a standards laboratory's page).
ISO_COLORS = {
    "epinephrine": ("vasopressor", "violet", "256"),
    "norepinephrine": ("vasopressor", "violet", "256"),
    "phenylephrine": ("vasopressor", "violet", "256"),
    "vasopressin": ("vasopressor", "violet", "256"),
    "atropine": ("anticholinergic", "green", "367"),
    "midazolam": ("benzodiazepine", "orange", "151"),
    "ketamine": ("induction agent", "yellow", "Process Yellow"),
    "fentanyl": ("opioid", "blue", "297"),
    "naloxone": ("opioid antagonist", "blue", "297"),
    "etomidate": ("induction agent", "yellow", "Process Yellow"),
    "rocuronium": ("muscle relaxant", "red", "Warm Red"),
    "succinylcholine": ("muscle relaxant", "red", "Warm Red"),
    "lidocaine": ("local anesthetic", "gray", "401"),
}


def made(slug, number=0):
    return labels.preparations(RULES.treatments[slug], RULES, TEN)[number]


def test_nothing_on_a_label_is_error_prone():
    """The published list of error-prone notations, on every label that the rules can print."""
    assert [(name, found) for name, label in EVERY for each in texts(label) for found in find(each)] == []


def test_a_name_bears_the_letters_of_the_list_or_an_initial_capital_and_is_never_all_capitals():
    """ISO 26825:2020, 5.4.2: an initial capital or tall-man letters, not all upper case."""
    for name, label in EVERY:
        plain = label.drug.lower()

        assert label.drug == TALL_MAN.get(plain, plain[:1].upper() + plain[1:]), name
        assert not label.drug.isupper(), name


def test_the_color_is_that_of_the_class_and_its_words_say_it():
    for name, label in EVERY:
        published = ISO_COLORS.get(label.drug.lower())

        if published is None:
            assert label.color is None, name
            continue
        drug_class, color, _ = published
        assert (label.color.drug_class, label.color.color, label.color.number) == published, name
        assert label.color.words.startswith(f"{drug_class}, {color}"), name
        assert label.color.words.endswith("in ISO 26825"), name
        assert label.color.mark in ("read", "second-hand"), name
        assert "ISO 26825:2020" in label.color.source, name


def test_only_an_antagonist_is_striped_and_only_epinephrine_stands_in_a_black_bar():
    """ISO 26825:2020, 5.2.2 (stripes); ASTM D4774, figure 3 (reversed plate for epinephrine)."""
    for name, label in EVERY:
        assert bool(label.color and label.color.opposite) is (label.drug == "Naloxone"), name
        assert label.black_bar is (label.drug == "EPINEPHrine"), name


def test_what_is_mixed_is_discarded_after_the_hours_of_the_rule_set():
    for name, label in EVERY:
        assert label.discard_at - label.mixed_at == timedelta(hours=RULES.ledger.discard_after_h), name


def test_every_drug_that_is_colored_is_one_of_the_rules_and_of_one_class():
    colored = [
        drug for name, table in tables.load("mix/labels").items() if name != "black bar" for drug in table["drugs"]
    ]

    assert len(set(colored)) == len(colored)
    assert set(colored) == set(ISO_COLORS)
    assert set(colored) <= {treatment.drug for treatment in RULES.treatments.values()}


def test_the_syringe_of_a_push_dose():
    """PDP-033: violet, "10 mcg per mL"."""
    (label,) = made("epinephrine-push-dose").labels

    assert texts(label) == ["EPINEPHrine", "10 mcg per mL", "100 mcg in 10 mL", "vasopressor, violet in ISO 26825"]
    assert label.vessel == "syringe"


def test_the_bag_to_draw_from_and_the_syringe_drawn_from_it():
    bag, syringe = made("phenylephrine-push-dose").labels

    assert (bag.vessel, bag.total, bag.warning) == ("bag", "10 mg in 100 mL", "draw only, never hang")
    assert (syringe.vessel, syringe.total, syringe.warning) == ("syringe", "1,000 mcg in 10 mL", "")
    assert {bag.strength, syringe.strength} == {"100 mcg per mL"}
    assert {bag.exactly, syringe.exactly} == {"exactly 99 mcg per mL"}


def test_norepinephrine_says_that_it_is_the_base():
    (label,) = made("norepinephrine-infusion").labels

    assert label.total == "4 mg in 250 mL"
    assert label.warning.startswith("as base")
    assert label.exactly == ""


@pytest.mark.parametrize(
    ("slug", "names"),
    [
        ("norepinephrine-infusion", ["16-mcg-per-mL", "32-mcg-per-mL", "64-mcg-per-mL"]),
        ("ketamine", ["10-mg-per-mL", "50-mg-per-mL"]),
        ("crystalloid-bolus", []),
        ("blood-product", []),
    ],
)
def test_a_label_for_each_strength_that_can_be_in_hand(slug, names):
    assert [each.name for each in labels.preparations(RULES.treatments[slug], RULES, TEN)] == names


def test_what_is_drawn_up_as_it_comes_has_a_total_to_write():
    label = made("ketamine", 1).labels[0]

    assert label.total == ""
    assert label.strength == "50 mg per mL"


@pytest.mark.parametrize(
    ("slug", "vessel", "strength", "volume", "told"),
    [
        ("epinephrine-push-dose", "syringe", "10 mcg/mL", 6.5, ["10 mcg per mL", "65 mcg in 6.5 mL", ""]),
        (
            "phenylephrine-push-dose",
            "bag",
            "100 mcg/mL",
            100,
            ["100 mcg per mL", "10 mg in 100 mL", "draw only, never hang"],
        ),
        ("phenylephrine-push-dose", "syringe", "100 mcg/mL", 10, ["100 mcg per mL", "1,000 mcg in 10 mL", ""]),
        ("vasopressin-infusion", "bag", "0.4 units/mL", 100, ["0.4 units per mL", "40 units in 100 mL", ""]),
        ("epinephrine-infusion", "bag", "8 mcg/mL", 250, ["8 mcg per mL", "2 mg in 250 mL", ""]),
    ],
)
def test_what_was_recorded_is_labeled_as_it_was_stated(slug, vessel, strength, volume, told):
    value, unit = strength.split()
    label = labels.of_container(
        RULES.treatments[slug],
        RULES,
        vessel=vessel,
        strength=Amount(float(value), unit),
        volume=Amount(volume, "mL"),
        mixed_at=TEN,
    )

    assert [label.strength, label.total, label.warning] == told
    assert label.mixed_at == TEN


def test_no_two_labels_of_a_treatment_share_a_name():
    names = [name for name, _ in all_labels(RULES)]

    assert len(set(names)) == len(names)
