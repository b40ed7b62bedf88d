"""Whole labels, every word of them, and the names and titles under which they are found.

Letters and colors: FDA and ISMP list of tall man letters (2023), ISO 26825:2020 (second-hand). Four hours: USP chapter
797 (2023, second-hand). Totals are the recipes' own: what goes into the vessel, and its volume.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from dosing.ground.facts import Amount
from dosing.mix import labels
from tests.dosing.bedside import RULES, TEN

DISCARDED = TEN + timedelta(hours=4)


def preparation(slug: str, name: str) -> labels.Preparation:
    (made,) = [each for each in labels.preparations(RULES.treatments[slug], RULES, TEN) if each.name == name]
    return made


def label(**words: Any) -> labels.Label:
    return labels.Label(**{"mixed_at": TEN, "discard_at": DISCARDED, **words})


@pytest.mark.parametrize(
    ("slug", "name", "title", "made"),
    [
        (
            "epinephrine-push-dose",
            "10-mcg-per-mL",
            "100 mcg in 10 mL: 10 mcg per mL",
            [("syringe", "EPINEPHrine", "10 mcg per mL", "100 mcg in 10 mL", True)],
        ),
        (
            "phenylephrine-push-dose",
            "100-mcg-per-mL",
            "10 mg in 100 mL: 100 mcg per mL",
            [
                ("bag", "Phenylephrine", "100 mcg per mL", "10 mg in 100 mL", False),
                ("syringe", "Phenylephrine", "100 mcg per mL", "1,000 mcg in 10 mL", False),
            ],
        ),
        (
            "dopamine-infusion",
            "1600-mcg-per-mL",
            "1,600 mcg per mL, total written by hand",
            [("bag", "DOPamine", "1,600 mcg per mL", "", False)],
        ),
        (
            "vasopressin-infusion",
            "1-unit-per-mL",
            "100 units in 100 mL: 1 unit per mL",
            [("bag", "Vasopressin", "1 unit per mL", "100 units in 100 mL", False)],
        ),
        (
            "epinephrine-im",
            "1-mg-per-mL",
            "1 mg per mL, total written by hand",
            [("syringe", "EPINEPHrine", "1 mg per mL", "", True)],
        ),
        (
            "fentanyl",
            "50-mcg-per-mL",
            "50 mcg per mL, total written by hand",
            [("syringe", "fentaNYL", "50 mcg per mL", "", False)],
        ),
    ],
)
def test_each_way_to_prepare_it_has_its_title_and_a_label_for_each_vessel(
    slug: str, name: str, title: str, made: list[tuple[Any, ...]]
) -> None:
    found = preparation(slug, name)

    assert found.title == title
    assert [(one.vessel, one.drug, one.strength, one.total, one.black_bar) for one in found.labels] == made
    assert {(one.mixed_at, one.discard_at) for one in found.labels} == {(TEN, DISCARDED)}


def test_a_label_without_a_class_in_the_standard_says_all_in_words() -> None:
    assert preparation("dopamine-infusion", "800-mcg-per-mL").labels == (
        label(vessel="bag", drug="DOPamine", strength="800 mcg per mL"),
    )


def test_a_label_with_a_class_names_it() -> None:
    color = labels.color_of("naloxone")

    assert preparation("naloxone", "0.4-mg-per-mL").labels == (
        label(vessel="syringe", drug="Naloxone", strength="0.4 mg per mL", color=color),
    )
    assert color is not None
    assert color.words == "opioid antagonist, blue and white stripes in ISO 26825"


@pytest.mark.parametrize(("vessel", "total"), [("syringe", "400 mcg in 50 mL"), ("bag", "0.4 mg in 50 mL")])
def test_what_was_recorded_bears_its_vessel(vessel: str, total: str) -> None:
    made = labels.of_container(
        RULES.treatments["epinephrine-infusion"],
        RULES,
        vessel=vessel,
        strength=Amount(8, "mcg/mL"),
        volume=Amount(50, "mL"),
        mixed_at=TEN,
    )

    assert made == label(
        vessel=vessel,
        drug="EPINEPHrine",
        strength="8 mcg per mL",
        total=total,
        color=labels.color_of("epinephrine"),
        black_bar=True,
    )
