"""Numbers changed in a form by the medical director: gathered, compared, adopted under a name of its own."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from consult import queries, rule_set_files
from consult.actions import rule_drafts
from consult.models import RuleSetDraft
from consult.screens import rules_change
from consult.screens.rules_edges import edge_rows
from consult.screens.rules_entry import Words
from consult.screens.rules_sections import unverified, whole
from dosing.load import reader
from dosing.load.judge import judge
from dosing.rules.amended import entries_in
from tests.conftest import Cast, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
PAGE = "/rules/change/"
DEMONSTRATION = reader.load_shipped("demonstration")
MOST = "treatments.epinephrine-push-dose.bands.1.most"
LEAST = "treatments.epinephrine-push-dose.bands.1.least"
NEW = {"source": "new", "text": "Protocol of the agency, page 12", "mark": "read"}
FIFTEEN = {"entry": MOST, "number:amount": "15", "unit:amount": "mcg", "reason": "the committee agreed", **NEW}


@pytest.fixture(autouse=True)
def _judged_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a process of its own, which takes longer than all the rest of a test: `test_rule_set_files.py` has it."""
    monkeypatch.setattr(rule_set_files, "_judged", judge)


@pytest.fixture
def director(signed_in: Sign) -> Client:
    return signed_in("sorrel")


def put(client: Client, **changed: str) -> Element:
    """Put a change into the draft, and see the draft."""
    answer = client.post(PAGE, {**FIFTEEN, **changed})
    assert answer.status_code == 302, read(answer.text).one("problem").text
    return draft(client)


def draft(client: Client) -> Element:
    return read(client.get(PAGE).text)


def adopt(client: Client, **changed: str) -> Any:
    fields = {
        each.attributes["name"]: each.attributes.get("value") for each in draft(client).one(id="adopt").every("input")
    }
    assert fields["name"] != "demonstration"
    sent = {**fields, "step": "adopt", "name": "own", "version": "2", "reason": "yearly revision", **changed}
    return client.post(PAGE, {name: value or "" for name, value in sent.items() if name})


def test_a_fault_of_a_whole_treatment_names_it(director: Client) -> None:
    words = Words(DEMONSTRATION)

    assert words.of("treatments.epinephrine-push-dose") == "EPINEPHrine push dose"
    assert words.of("treatments.epinephrine-push-dose.bands.1.most.amount").endswith("Maximum without an order: adult")
    assert words.of("sources.choice") == "sources.choice"


@pytest.mark.parametrize(("who", "status"), [("osk", 403), ("merrin", 403), ("averill", 403), ("sorrel", 200)])
def test_the_form_is_for_the_medical_director(who: str, status: int, signed_in: Sign) -> None:
    client = signed_in(who)

    assert client.get(PAGE).status_code == status
    assert client.post(PAGE, FIFTEEN).status_code == (302 if status == 200 else 403)
    assert RuleSetDraft.objects.exists() is (status == 200)


def test_every_number_outside_recipes_stands_in_the_list_of_its_part() -> None:
    for name in ("demonstration", "conservative"):
        rules = reader.load_shipped(name)
        sections = list(whole(rules).sections())
        listed = {getattr(each, "entry", "") for section in sections for each in section.entries()}
        listed |= {row.entry for section in sections for row in edge_rows(rules, section.slug)}

        assert listed - {""} == set(entries_in(rules.content))


def test_the_numbers_of_a_treatment_are_listed_and_lead_to_their_form(director: Client) -> None:
    page = read(director.get(f"{PAGE}?part=epinephrine-push-dose").text)

    row = next(
        row for row in page.one("chosen").every("tr") if row.text.startswith("Maximum without an order adult 20 mcg")
    )
    link = row.one("a").attributes["href"]
    assert link is not None
    form = read(director.get(link).text).one(id="form")
    assert form.one("h2").text == "EPINEPHrine push dose: Maximum without an order: adult"
    assert form.one("input", name="number:amount").attributes["value"] == "20"
    chosen = [option.text for option in form.every("option") if "selected" in option.attributes]
    assert chosen == ["mcg"]
    assert "Critical-care transport regimen" in form.text


def test_a_change_is_compared_and_changes_nothing_yet(director: Client, consult: Consult) -> None:
    page = put(director)

    gathered = page.one("gathered").text
    assert (
        "EPINEPHrine push dose: Maximum without an order: adult amount 20 mcg 15 mcg the committee agreed" in gathered
    )
    (effect,) = [row.text for row in page.one("effects").every("tr")[1:]]
    assert effect.startswith("EPINEPHrine push dose: maximum without an order adults 20 mcg Critical-care")
    assert effect.endswith("15 mcg Protocol of the agency, page 12 checked")
    assert queries.agency_journal(consult.cast.sorrel.agency) == []
    assert consult.card["rule_set"]["digest"] == DEMONSTRATION.digest


def test_several_are_gathered_the_newest_of_one_entry_counts_and_each_can_be_taken_out(director: Client) -> None:
    put(director)
    put(director, **{"number:amount": "16"})
    page = put(director, entry=LEAST, **{"number:amount": "5"})
    assert [row.one("b").text for row in page.one("gathered").every("tr")[1:]] == ["16 mcg", "5 mcg"]

    director.post(PAGE, {"step": "drop", "entry": MOST})
    assert [row.one("b").text for row in draft(director).one("gathered").every("tr")[1:]] == ["5 mcg"]
    director.post(PAGE, {"step": "drop"})
    assert draft(director).one(id="gathered").text == "No change gathered yet"


def test_a_goal_and_a_plain_figure_keep_their_unit(director: Client) -> None:
    goal = next(f"goals.{number}" for number, rule in enumerate(DEMONSTRATION.goals) if rule.floor == 65)
    page = put(director, entry=goal, **{"number:floor": "70"})
    page = put(director, entry="treatments.epinephrine-push-dose.interval", **{"number:value": "3"})

    told = [row.text for row in page.one("gathered").every("tr")[1:]]
    assert "goal, at least 65 mmHg 70 mmHg" in told[0]
    assert "number 2 min 3 min" in told[1]


def test_a_changed_number_has_no_source_until_one_is_chosen(director: Client) -> None:
    """The old number's is offered, named as that; a local choice is marked as one."""
    form = read(director.get(f"{PAGE}?entry={MOST}").text).one(id="form")
    source = form.one("select", name="source")

    assert "required" in source.attributes
    assert not any("selected" in each.attributes for each in source.every("option"))
    old = DEMONSTRATION.treatments["epinephrine-push-dose"].bands[1].most.source
    texts = {each.attributes["value"]: each.text for each in source.every("option")}
    assert texts[old.id] == "The source of the old number says the new one, too"
    assert old.text in form.text

    put(director, source="local", text="", mark="")
    change = RuleSetDraft.objects.get().changes[0]
    assert (change["text"], change["mark"]) == ("Local choice of the medical director", "our choice")


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"number:amount": "ten"}, "'ten' is not a number"),
        ({"number:amount": "1,5"}, "'1,5' is not a number"),
        ({"number:amount": "20"}, "Every number is the same"),
        ({"unit:amount": "mL"}, "choose a unit"),
        ({"reason": " "}, "Say why"),
        ({"reason": "x" * 301}, "Say why"),
        ({"source": "nowhere"}, "Say where the new number comes from"),
        ({"source": ""}, "Say where the new number comes from"),
        ({"text": ""}, "Say where the new number comes from"),
        ({"mark": "certain"}, "Say where the new number comes from"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_stays(changed: dict[str, str], told: str, director: Client) -> None:
    answer = director.post(PAGE, {**FIFTEEN, **changed})

    page = read(answer.text)
    assert answer.status_code == 422
    assert told in page.one("problem").text
    typed = page.one(id="form").one("input", name="number:amount").attributes["value"]
    assert typed == changed.get("number:amount", "15")
    assert not RuleSetDraft.objects.exists()


@pytest.mark.parametrize("entry", ["treatments.epinephrine-push-dose.bands.99.most", "sources.choice", "", "name"])
def test_what_holds_no_number_has_no_form(entry: str, director: Client) -> None:
    assert director.post(PAGE, {**FIFTEEN, "entry": entry}).status_code in (404, 422)
    assert not RuleSetDraft.objects.exists()


def test_a_draft_that_makes_no_sense_is_named_and_cannot_be_adopted(director: Client, cast: Cast) -> None:
    page = put(director, **{"number:amount": "2000"})

    assert "EPINEPHrine push dose: Maximum without an order: adult : most exceeds hard" in page.one(id="faults").text
    assert not page.every(id="adopt")
    shown = {"draft": "", "replaces": DEMONSTRATION.digest, "name": "own", "version": "2", "reason": "because"}
    assert director.post(PAGE, {"step": "adopt", **shown}).status_code == 422
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_the_draft_is_adopted_whole_under_the_name_and_version_that_the_director_gives(
    director: Client, consult: Consult
) -> None:
    put(director)
    put(director, entry=LEAST, reason="small first doses", **{"number:amount": "5"})

    answer = adopt(director, name="brindle-vale", version="2026-05")

    assert (answer.status_code, answer["Location"]) == (302, "/rules/")
    (line,) = queries.agency_journal(consult.cast.sorrel.agency)
    assert (line["data"]["rule_set"]["name"], line["data"]["rule_set"]["version"]) == ("brindle-vale", "2026-05")
    assert line["data"]["reason"] == "yearly revision"
    assert [(each["what"], each["reason"]) for each in line["data"]["numbers"]] == [
        ("EPINEPHrine push dose: Maximum without an order: adult", "the committee agreed"),
        ("EPINEPHrine push dose: Minimum: adult", "small first doses"),
    ]
    kept = queries.kept_set(consult.cast.sorrel.agency, line["data"]["rule_set"]["digest"])
    assert kept is not None
    rules = reader.loads(kept.content)
    assert rules.title == "Rules of Brindle Vale"
    assert rules.treatments.keys() == DEMONSTRATION.treatments.keys()
    most = rules.treatments["epinephrine-push-dose"].bands[1].most
    assert most is not None
    assert (most.amount.value, most.source.text, most.source.mark) == (15, NEW["text"], "read")
    assert consult.card["rule_set"] == {**rules.label, "approved": True}
    assert draft(director).one(id="gathered").text == "No change gathered yet"


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"name": "demonstration"}, "Give a changed set a name of its own"),
        ({"name": ""}, "a name and a version"),
        ({"version": " "}, "a name and a version"),
        ({"version": "1" * 31}, "is longer than 30 characters"),
        ({"reason": ""}, "Say why"),
        ({"draft": "0" * 64}, "have changed since this page was loaded"),
        ({"replaces": "0" * 64}, "have changed since this page was loaded"),
    ],
)
def test_a_draft_that_was_not_looked_at_or_not_named_is_not_adopted(
    changed: dict[str, str], told: str, director: Client, cast: Cast
) -> None:
    put(director)
    answer = adopt(director, **changed)

    assert answer.status_code in (409, 422)
    assert told in read(answer.text).one("problem").text
    assert queries.agency_journal(cast.sorrel.agency) == []
    assert draft(director).one("gathered").every("tr")[1:]


def test_the_form_tells_and_asks_of_unverified_numbers_what_an_adopted_file_does(director: Client, cast: Cast) -> None:
    put(director, entry=LEAST, source="local", text="", mark="", **{"number:amount": "5"})
    made = rules_change.read_draft(DEMONSTRATION, rule_drafts.gathered(cast.sorrel), name="own")
    told = draft(director).one(id="unverified")
    file = read(director.post("/rules/adopt/", {"file": SimpleUploadedFile("own.toml", made.text.encode())}).text)

    assert told.text == file.one(id="unverified").text
    assert told.text == f"{unverified(made)} numbers are unverified: you adopt them as they are."
    answer = adopt(director, unverified="")
    assert answer.status_code == 422
    assert f"{unverified(made)} numbers are unverified: confirm" in read(answer.text).one("problem").text
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_a_change_of_an_entry_that_another_adoption_changed_is_named(director: Client, signed_in: Sign) -> None:
    put(director, entry=LEAST, **{"number:amount": "5"})
    adopt(director)
    put(director, entry=LEAST, **{"number:amount": "6"})
    director.post("/rules/adopt/", {"shipped": "demonstration"})
    again = DEMONSTRATION
    in_force = draft(director).one(id="adopt").one("input", name="replaces").attributes["value"]
    sent = {"content": again.text, "name": "x", "digest": again.digest, "replaces": in_force or "", "reason": "back"}
    sent["unverified"] = str(unverified(again))
    assert director.post("/rules/adopt/", {**sent, "confirm": "1"}).status_code == 302

    page = draft(director)

    assert "This entry has changed since" in page.one("gathered").text
    assert adopt(director, version="3").status_code == 422
