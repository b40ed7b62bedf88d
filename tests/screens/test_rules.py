"""The rule set to be read: every number beside its source and mark, and the banner while nobody has approved it."""

from __future__ import annotations

from typing import Any

import pytest

from consult.actions import rule_sets
from consult.models import Membership, RuleSetRecord
from consult.render.words import mark_told
from consult.screens import rules_words
from consult.screens.crew_treatments import all_titles
from consult.screens.rules_treatments import treatment_rows
from dosing.ground.facts import Amount
from dosing.load import reader
from dosing.rules.rule_set import Limit, Source, Where
from dosing.rules.words import MARKS_TOLD
from tests.conftest import NOON, Cast
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
DEMONSTRATION = reader.load_shipped("demonstration")


@pytest.fixture(scope="module")
def asked_before() -> list[Element]:
    return []


@pytest.fixture
def page(request: pytest.FixtureRequest, asked_before: list[Element]) -> Element:
    """The page as a physician sees it of the shipped rules, asked for once: who reads it changes nothing."""
    if not asked_before:
        request.getfixturevalue("cast")
        answer = request.getfixturevalue("signed_in")("merrin").get("/rules/")
        assert answer.status_code == 200
        asked_before.append(read(answer.text))
    return asked_before[0]


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
    told = {"name": "conservative", "version": "1", "digest": reader.load_shipped("conservative").digest}
    RuleSetRecord.objects.update(
        **told, content=reader.load_shipped("conservative").text, approved_by=director, approved_at=NOON
    )

    page = read(signed_in("merrin").get("/rules/").text)

    assert not page.every("not-approved")
    assert "Approved by Dr. Sorrel on 2030-01-05" in page.one("rules-head").text


@pytest.mark.parametrize("slug", DEMONSTRATION.treatments)
def test_every_treatment_is_there_with_its_numbers(slug: str, page: Element):
    section = page.one(id=slug)

    rows = section.every("tbody")[0].every("tr")
    assert rows
    for row in rows:
        assert row.one("mark").text in {"checked", "second-hand", "unverified", "local choice"}
        assert row.every("td")[1].text
        assert source_of(page, row)


@pytest.mark.parametrize(
    ("slug", "what", "value"),
    [
        ("epinephrine-push-dose", "Minimum", "10 mcg"),
        ("epinephrine-push-dose", "Hard limit", "100 mcg"),
        ("epinephrine-push-dose", "Smallest interval", "2 min"),
        ("crystalloid-bolus", "Maximum without an order", "30 mL/kg, at most 1,000 mL"),
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
    listed = [source.text for source in page.one("sources").every("li")]
    assert len(listed) == len(set(listed))
    for number, source in enumerate(DEMONSTRATION.sources.values(), 1):
        assert listed[number - 1] == f"{number} {source.text} {MARKS_TOLD[source.mark]}"


def test_what_is_in_hand_has_its_numbers_too(page: Element):
    """Published cylinder factors and the hours after which what was mixed is discarded, each with its source."""
    told = ("Discard after h all 4", "Largest syringe mL all 60", "E cylinder all 0.28 L/psi", "Reserve all 200 psi")
    for words in told:
        assert words in page.text
    assert "oxygen cylinder guidance" in page.one("sources").text


@pytest.mark.parametrize(
    ("words", "source"),
    [
        ("20 G by gravity all 60 mL/min", "Peripheral catheter flow chart"),
        ("Drip set all 60 drops per mL", "ISO 8536-4:2020"),
        ("Reached with 20 mL in a test all 65.8 mL/min", "Toshniwal"),
        ("Smallest mark of 10 mL all 0.2 mL", "Graduations printed"),
        ("Pump, step all 0.1 mL/h", "Hospital guide to injectable medicines"),
        ("A push acts for all 5–10 min", "Onset under 1 min"),
        ("After pressor rate above all 140", "Cole et al."),
    ],
)
def test_every_number_of_flow_and_wear_off_stands_with_its_source(words: str, source: str, page: Element):
    rows = [row for row in page.every("tr") if row.text.startswith(words)]

    assert any(source in source_of(page, row) for row in rows)


def source_of(page: Element, row: Element) -> str:
    """The text of the source to which a row's number leads."""
    (number,) = {link.attributes["href"] for link in row.one("noted").every("note-ref")}
    assert number is not None
    return page.one(id=number.removeprefix("#")).text


@pytest.mark.parametrize(("mark", "told"), MARKS_TOLD.items())
def test_each_mark_is_told_counted_and_shown_alone(mark: str, told: str, cast: Cast, signed_in: Sign, page: Element):
    tile = next(tile for tile in page.one("marks").every("a") if tile.every("mark") and tile.one("mark").text == told)
    count = int(tile.one("b").text)
    assert count == len(borne(page, told))

    only = read(signed_in("merrin").get(f"/rules/{tile.attributes['href']}").text)

    assert len(borne(only, told)) == count
    assert all(not borne(only, other) for other in MARKS_TOLD.values() if other != told)
    assert only.one("marks").one("a", aria_current="true").one("mark").text == told
    folds = [fold for fold in only.every("fold") if fold.attributes.get("id") not in ("sources", "adoptions")]
    assert folds
    assert all("open" in fold.attributes for fold in folds)


def test_the_marks_add_up_to_all_entries(page: Element):
    every, *rest = [int(tile.one("b").text) for tile in page.one("marks").every("a")]

    assert every == sum(rest)


def test_a_mark_that_nobody_knows_shows_all(cast: Cast, signed_in: Sign, page: Element):
    odd = read(signed_in("merrin").get("/rules/?mark=guessed").text)

    assert odd.one("marks").text == page.one("marks").text


def borne(page: Element, told: str) -> list[Element]:
    """The marks of this word beside entries; not those of the sources and of the tiles."""
    listed = {id(each) for name in ("sources", "marks") for each in page.one(name).every("mark")}
    return [each for each in page.every("mark") if each.text == told and id(each) not in listed]


@pytest.mark.parametrize(("who", "may"), [("sorrel", True), ("averill", False), ("merrin", False), ("osk", False)])
def test_each_number_leads_the_director_and_nobody_else_to_its_form(who: str, may: bool, cast: Cast, signed_in: Sign):
    page = read(signed_in(who).get("/rules/").text)

    rows = page.one(id="epinephrine-push-dose").every("tbody")[0].every("tr")
    changes = {row.one("th").text: row.every("change") for row in rows}
    assert bool(changes["Smallest interval"]) is may
    assert not changes["What it is"]


def test_the_number_of_an_edge_has_its_source_too(page: Element):
    """An age or a weight may come from elsewhere than the limit that begins there; the weaker of both marks the row."""
    rows = [(slug, row) for slug, each in DEMONSTRATION.treatments.items() for row in treatment_rows(each)]
    apart = [(slug, row) for slug, row in rows if row.edge_elsewhere]
    assert apart

    for slug, row in apart:
        cells = next(each for each in page.one(id=slug).every("tr") if row.who in each.text and row.value in each.text)
        link = cells.every("td")[0].one("note-ref").attributes["href"] or ""
        assert row.edge is not None
        assert row.edge.text in page.one(id=link.removeprefix("#")).text
        assert row.mark in (row.source.mark, row.edge.mark)


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
    ("text", "told"),
    [
        ("Common practice, no source [memory]", "Common practice, no source [unverified]"),
        ("A label [9/2023] says so [read]", "A label [9/2023] says so [checked]"),
        ("Chosen [our choice]", "Chosen [local choice]"),
        ("A page [second-hand]", "A page [second-hand]"),
        ("A label [9/2023]", "A label [9/2023]"),
        ("", ""),
    ],
)
def test_a_source_that_comes_with_its_mark_is_told_in_the_words_of_the_pages(text: str, told: str):
    assert mark_told(text) == told


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
        (Where(history=frozenset({"maoi", "dialysis"})), "with dialysis or MAO inhibitor"),
        (Where(from_weeks=20), "from week 20 of pregnancy"),
        (Where(injuries=frozenset({"spinal_cord"}), from_onset_h=24), "injury: spinal cord, from 24 h after the onset"),
        (Where(under_weeks=37), "under week 37 of pregnancy"),
        (Where(again=True), "given before"),
        (Where(again=False), "first dose"),
        (Where(phases=frozenset({"arrest"})), "in cardiac arrest"),
        (Where(routes=frozenset({"IM", "IV"})), "IV or IM"),
        (Where(indications=frozenset({"slow-heart"})), "for slow heart"),
    ],
)
def test_whom_a_rule_is_for_is_said_in_words(where: Where | None, text: str):
    assert rules_words.where_text(where) == text


def test_what_a_number_is_for_stands_once_in_words_that_can_be_told_apart() -> None:
    """An indication has its own table, whose heading says it; of several each is told by itself."""
    rows = list(treatment_rows(DEMONSTRATION.treatments["calcium-chloride"]))
    (several,) = {row.who for row in rows if row.value == "2 doses"}
    slow = next(row for row in treatment_rows(DEMONSTRATION.treatments["atropine"]) if "is not slow" in row.value)

    assert several == (
        "for cardiac arrest with high potassium or low calcium; for high potassium; "
        "for calcium channel blocker poisoning"
    )
    torsades = [
        row.value
        for row in treatment_rows(DEMONSTRATION.treatments["magnesium-sulfate"])
        if (row.what, row.purpose) == ("Shortest time", "for torsades")
    ]
    assert torsades == ["5 min", "1 min"], "in an arrest the band applies, which stands further down"
    assert (slow.who, slow.whom) == ("", "for a slow heart")
    assert slow.value == "HR 60 beats per min or more: heart rate is not slow"


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

    assert page.text.count("the one furthest down applies") == 1
    goals = [row.text for row in page.one(id="goals").every("tr")]
    assert goals[1].startswith("SBP goal adult 90 mmHg"), "the general first, as of limits"
    rows = [row.text for row in page.one(id="crystalloid-bolus").every("tr")]
    marked = [row for row in rows if "replaced further down" in row]
    assert any("at most 3,000 mL" in row for row in marked)
    assert not any("2,000 mL" in row for row in marked)


def test_with_what_a_drug_is_not_given_stands_in_words() -> None:
    rows = [
        (row.what, row.who)
        for slug in ("esmolol", "nitroglycerin-tongue")
        for row in treatment_rows(DEMONSTRATION.treatments[slug])
    ]

    assert ("Never where", "heart block, unless pacemaker") in rows
    assert ("Never where", "crackles") in rows
    assert ("Not within", "IV or IO or PO") in rows


def test_from_which_etco2_an_opioid_needs_an_order_can_be_read_and_changed() -> None:
    rows = [
        row for row in treatment_rows(DEMONSTRATION.treatments["fentanyl"]) if row.value.startswith("EtCO2 60 mmHg")
    ]

    assert [(row.what, bool(row.entry)) for row in rows] == [("Needs an order where", True)]
