"""The rule set to be read: every number beside its source and mark, and the banner while nobody has approved it."""

from __future__ import annotations

from typing import Any

import pytest

from consult.actions import rule_sets
from consult.models import Membership, RuleSetRecord
from consult.screens import rules_words
from consult.screens.crew_treatments import all_titles
from dosing.ground.facts import Amount
from dosing.load import reader
from dosing.rules.rule_set import Limit, Source, Where
from tests.conftest import NOON, Cast
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
DEMONSTRATION = reader.load_shipped("demonstration")


@pytest.fixture
def page(cast: Cast, signed_in: Sign) -> Element:
    answer = signed_in("merrin").get("/rules/")
    assert answer.status_code == 200
    return read(answer.text)


@pytest.mark.parametrize("who", ["osk", "merrin", "averill", "sorrel"])
def test_every_role_may_read_the_rules(who: str, cast: Cast, signed_in: Sign):
    assert signed_in(who).get("/rules/").status_code == 200


def test_rules_that_nobody_approved_say_so_in_a_standing_banner(page: Element):
    banner = page.one("not-approved").text

    assert banner.startswith("Demonstration rules, not approved.")
    assert "Not for patient care" in banner
    assert "local protocol and the licensed clinician decide" in page.one("foot").text


def test_approved_rules_name_who_approved_them(cast: Cast, signed_in: Sign):
    director = Membership.objects.get(pk=cast.sorrel.membership)
    RuleSetRecord.objects.update(approved_by=director, approved_at=NOON)

    page = read(signed_in("merrin").get("/rules/").text)

    assert not page.every("not-approved")
    assert "Approved by Dr. Sorrel on 2030-01-05" in page.one("rules-head").text


@pytest.mark.parametrize("slug", DEMONSTRATION.treatments)
def test_every_treatment_is_there_with_its_numbers(slug: str, page: Element):
    section = page.one(id=slug)

    rows = section.every("tbody")[0].every("tr")
    assert rows
    for row in rows:
        assert row.one("mark").text in {"read", "second-hand", "memory", "our choice"}
        assert row.every("td")[1].text


@pytest.mark.parametrize(
    ("slug", "what", "value"),
    [
        ("epinephrine-push-dose", "Least", "10 mcg"),
        ("epinephrine-push-dose", "Hard limit", "100 mcg"),
        ("epinephrine-push-dose", "Smallest interval", "2 min"),
        ("crystalloid-bolus", "Most without an order", "30 mL/kg, at most 1,000 mL"),
        ("epinephrine-im", "Hard limit", "0.5 mg"),
        ("norepinephrine-infusion", "Strength", "16 mcg per mL"),
    ],
)
def test_numbers_are_those_of_the_rules_page(slug: str, what: str, value: str, page: Element):
    rows = page.one(id=slug).every("tbody")[0].every("tr")

    said = {row.every("td")[1].text for row in rows if row.one("th").text == what}
    assert any(value in each for each in said), said


def test_the_recipe_stands_with_what_the_syringe_holds_after_each_step(page: Element):
    recipe = page.one(id="epinephrine-push-dose").one("recipes").text

    assert "holds 9 mL, no drug" in recipe
    assert "holds 10 mL, 100 mcg: 10 mcg per mL" in recipe


def test_goals_and_sources_are_listed_whole(page: Element):
    assert len(page.one(id="goals").every("tbody")[0].every("tr")) == len(DEMONSTRATION.goals)
    assert len(page.one("sources").every("li")) == len(DEMONSTRATION.sources)


def test_what_is_in_hand_has_its_numbers_too(page: Element):
    """Published cylinder factors and the hours after which what was mixed is discarded, each with its source."""
    told = ("Discard after h all 4", "Largest syringe mL all 60", "E cylinder all 0.28 L/psi", "Reserve all 200 psi")
    for words in told:
        assert words in page.text
    assert "oxygen cylinder guidance" in page.text


@pytest.mark.parametrize(
    "words",
    [
        "20 G by gravity all 60 mL/min Peripheral catheter flow chart",
        "Drip set all 60 drops per mL ISO 8536-4:2020",
        "Managed with 20 mL in a test all 65.8 mL/min Toshniwal",
        "Pump, step all 0.1 mL/h",
        "A push acts for all 5–10 min Onset under 1 min",
        "After pressor rate above all 140 Cole et al.",
    ],
)
def test_every_number_of_flow_and_wear_off_stands_with_its_source(words: str, page: Element):
    assert words in page.text


@pytest.mark.parametrize("mark", ["read", "second-hand", "memory", "our choice"])
def test_each_mark_is_explained_and_counted(mark: str, page: Element):
    borne = sum(source.mark == mark for source in DEMONSTRATION.sources.values())

    row = next(row for row in page.one("marks").every("div") if row.one("dt").text == mark)

    assert f": {borne} source" in row.text


def test_no_ratio_strength_or_trailing_zero_is_written(page: Element):
    import re

    text = page.one("main").text
    assert not re.search(r"\b1\s?:\s?1,?000", text)
    assert not re.search(r"\b\d+\.0 (?:mg|mcg|mL|g)\b", text)
    assert not re.search(r"(?<![\d])\.\d+ (?:mg|mcg|mL)", text)
    assert "µg" not in text


SOURCE = Source("x", "a source", "read")


def limit(value: float, unit: str, **more: Any) -> Limit:
    return Limit(amount=Amount(value, unit), source=SOURCE, exact=None, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("bound", "text"),
    [
        (limit(10, "mcg"), "10 mcg"),
        (limit(30, "mL/kg", at_most=Amount(1000, "mL")), "30 mL/kg, at most 1,000 mL"),
        (limit(0.02, "mg/kg", at_least=Amount(0.15, "mg")), "0.02 mg/kg, at least 0.15 mg"),
    ],
)
def test_a_bound_is_said_in_words(bound: Limit, text: str):
    assert rules_words.limit_text(bound) == text


@pytest.mark.parametrize(
    ("where", "text"),
    [
        (None, ""),
        (Where(), ""),
        (Where(who="child", under_kg=30), "child, under 30 kg"),
        (Where(impressions=frozenset({"obstructive", "cardiogenic"})), "cardiogenic or obstructive"),
        (Where(who="adult", weight="unknown"), "adult, weight unknown"),
        (Where(under_days=28), "under 28 days"),
        (Where(from_days=365 * 3, under_days=365 * 12), "from 3 years, under 12 years"),
        (Where(pressure_low=True), "pressure low"),
        (Where(bleeding_causes=frozenset({"gut"})), "bleeding: gut"),
    ],
)
def test_whom_a_rule_is_for_is_said_in_words(where: Where | None, text: str):
    assert rules_words.where_text(where) == text


def test_each_treatment_stands_under_a_heading_that_is_true_of_it() -> None:
    """By class and form, which are data of the rule set."""
    rules = reader.load_shipped("demonstration")
    headings = {each["title"]: {item["treatment"] for item in each["items"]} for each in all_titles(rules)}

    assert headings["Pressor push doses"] == {"epinephrine-push-dose", "phenylephrine-push-dose"}
    assert headings["Fluid and blood"] == {
        slug
        for slug, each in rules.treatments.items()
        if each.form == "bolus" and each.drug_class in ("fluid", "blood")
    }
    assert {"atropine", "naloxone", "dextrose"} <= headings["Other drugs"]
    assert set().union(*headings.values()) == set(rules.treatments)


def test_a_row_that_another_replaces_is_marked_and_the_page_says_how_rows_combine(cast: Cast, signed_in: Sign):
    rule_sets.adopt(cast.sorrel, reader.load_shipped("conservative"), NOON, reason="", by_way_of="page")

    page = read(signed_in("merrin").get("/rules/").text)

    assert page.text.count("the last holds") == 1
    rows = [row.text for row in page.one(id="crystalloid-bolus").every("tr")]
    marked = [row for row in rows if "replaced further down" in row]
    assert any("at most 3,000 mL" in row for row in marked)
    assert not any("2,000 mL" in row for row in marked)
