"""Adoption from the rules page in two steps: what would change is seen first, then the director confirms it."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from consult import queries, rule_set_files
from consult.screens.rules_rows import goal_rows
from consult.screens.rules_sections import unverified, whole
from dosing.load import reader
from dosing.load.judge import judge
from tests.conftest import Cast, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db
PAGE = "/rules/adopt/"
CONSERVATIVE, DEMONSTRATION = (reader.load_shipped(name) for name in ("conservative", "demonstration"))
LOWER = 'most = { amount = "15 mcg", source = "push-transport" }'


@pytest.fixture(autouse=True)
def _judged_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a process of its own, which takes longer than all the rest of a test: `test_rule_set_files.py` has it."""
    monkeypatch.setattr(rule_set_files, "_judged", judge)


def look(client: Client, **sent: Any) -> tuple[int, Element]:
    answer = client.post(PAGE, sent or {"shipped": "conservative"})
    return answer.status_code, read(answer.text)


def confirm(client: Client, **changed: str) -> Any:
    sent = {"content": CONSERVATIVE.text, "name": "conservative.toml", "digest": CONSERVATIVE.digest, "confirm": "1"}
    sent["unverified"] = str(unverified(DEMONSTRATION if "content" in changed else CONSERVATIVE))
    return client.post(PAGE, {**sent, "replaces": DEMONSTRATION.digest, "reason": "the board agreed", **changed})


@pytest.mark.parametrize(("who", "status"), [("osk", 403), ("merrin", 403), ("averill", 200), ("sorrel", 200)])
def test_supervisor_and_director_look_and_nobody_else(who: str, status: int, signed_in: Sign) -> None:
    client = signed_in(who)

    assert client.get(PAGE).status_code == status
    assert client.post(PAGE, {"shipped": "conservative"}).status_code == status


@pytest.mark.parametrize("who", ["osk", "merrin", "averill"])
def test_only_the_director_confirms(who: str, cast: Cast, signed_in: Sign) -> None:
    assert confirm(signed_in(who)).status_code == 403
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_the_first_step_shows_name_version_digest_and_what_changes_and_writes_nothing(
    cast: Cast, signed_in: Sign
) -> None:
    status, page = look(signed_in("sorrel"))

    assert status == 200
    text = page.one(id="new").text
    assert "conservative 1" in text
    assert CONSERVATIVE.digest in text
    assert "count (value 3; unit pushes; source More than 3 boluses" in text
    assert "[second-hand]" in text
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_the_first_step_shows_the_old_number_beside_the_new_and_keeps_what_was_chosen(signed_in: Sign) -> None:
    _, page = look(signed_in("sorrel"))

    (row,) = [
        row.text for row in page.one(id="new").every("tr") if "EPINEPHrine push dose: doses before an order" in row.text
    ]
    assert row.index("all") < row.index("5 pushes") < row.index("3 pushes")
    assert [option.text for option in page.every("option") if "selected" in option.attributes] == ["conservative"]


ADULT = '\nbecause = "adult"'


def test_a_goal_that_changes_stands_first_and_outside_the_list_of_entries(signed_in: Sign) -> None:
    client = signed_in("sorrel")
    text = client.get("/rules/file/").text.replace(f"floor = 65{ADULT}", f"floor = 70{ADULT}")
    lower = text.replace('most = { amount = "20 mcg", source = "push-transport" }', LOWER, 1)
    _, page = look(client, file=SimpleUploadedFile("own.toml", lower.encode()))

    table = page.one(id="new").one("effects")
    goal, dose = [row.text for row in table.every("tr")[1:]]
    assert goal.startswith("MAP goal adults")
    assert goal.index("65 mmHg") < goal.index("Surviving Sepsis") < goal.index("70 mmHg")
    assert "does it say so?" in goal
    assert "maximum without an order" in dose


def test_the_file_of_the_set_in_force_is_saved_to_be_changed_and_adopted_anew(signed_in: Sign) -> None:
    client = signed_in("sorrel")
    answer = client.get("/rules/file/")

    assert answer["Content-Disposition"] == 'attachment; filename="demonstration-1.toml"'
    assert reader.loads(answer.text).digest == DEMONSTRATION.digest
    assert answer.text.startswith("# Decision support: local protocol and the licensed clinician decide.")
    own = answer.text.replace('name = "demonstration"', 'name = "brindle-vale"', 1)
    status, page = look(client, file=SimpleUploadedFile("own.toml", own.encode()))
    assert (status, "brindle-vale 1" in page.one(id="new").text) == (200, True)


def test_a_set_that_stands_upon_another_is_saved_whole(signed_in: Sign) -> None:
    client = signed_in("sorrel")
    confirm(client)
    answer = client.get("/rules/file/")

    assert answer["Content-Disposition"] == 'attachment; filename="conservative-1.toml"'
    assert answer.text.startswith("# Decision support: local protocol and the licensed clinician decide.")
    assert reader.loads(answer.text).digest == CONSERVATIVE.digest
    assert list(reader.loads(answer.text).treatments) == list(DEMONSTRATION.treatments)
    assert "\r" not in answer.text
    broken = answer.text.replace('amount = "20 mL/kg"', 'amount = "20 mL/lb"')
    _, page = look(client, file=SimpleUploadedFile("own.toml", broken.encode()))
    faults = page.one(id="faults").every("li")
    lines = {int(fault.one("b").text.removeprefix("Line ")) for fault in faults}
    assert all("20 mL/lb" in broken.splitlines()[line - 1] for line in lines)


def test_another_content_of_the_same_name_and_a_number_that_left_its_source_are_pointed_at(signed_in: Sign) -> None:
    client = signed_in("sorrel")
    text = client.get("/rules/file/").text
    lower = text.replace('most = { amount = "20 mcg", source = "push-transport" }', LOWER, 1)
    _, page = look(client, file=SimpleUploadedFile("own.toml", lower.encode()))
    told = page.one(id="new").text
    assert "Give a changed set a name of its own" in told
    assert "Another number, the same source: does it say so?" in told
    assert "Approve as" not in told

    fair = lower.replace('name = "demonstration"', 'name = "own"', 1).replace(
        LOWER, LOWER.replace("push-transport", "choice"), 1
    )
    _, page = look(client, file=SimpleUploadedFile("own.toml", fair.encode()))
    assert "name of its own" not in page.one(id="new").text
    assert "Approve as" in page.one(id="new").text
    assert "does it say so?" not in page.one(id="new").text


def test_the_schema_of_rule_sets_is_served_as_it_is_published(signed_in: Sign) -> None:
    answer = signed_in("merrin").get("/rules/schema.json")

    assert answer["Content-Type"] == "application/schema+json"
    assert answer.content == (reader.SHIPPED / "schema.json").read_bytes()


def test_a_supervisor_sees_what_would_change_without_the_button(signed_in: Sign) -> None:
    _, page = look(signed_in("averill"))

    assert "Only the medical director approves a rule set." in page.one(id="new").text
    assert "Approve as" not in page.one(id="new").text


@pytest.mark.parametrize(("who", "status"), [("averill", 403), ("sorrel", 200)])
def test_only_the_director_sends_a_file(who: str, status: int, signed_in: Sign) -> None:
    file = SimpleUploadedFile("draft.toml", CONSERVATIVE.text.encode())

    assert look(signed_in(who), file=file)[0] == status


def test_a_file_that_no_rule_set_is_like_is_refused_in_words(signed_in: Sign) -> None:
    own = (reader.SHIPPED / "conservative.toml").read_bytes()
    file = SimpleUploadedFile("draft.toml", own + b"\nx = " + b"9" * 5000)
    status, page = look(signed_in("sorrel"), file=file)

    assert status == 422
    assert page.one(id="faults").every("li")[0].text == "file : a number has more than 20 digits"


def test_the_faults_of_a_file_are_listed_with_entry_and_line(cast: Cast, signed_in: Sign) -> None:
    own = (reader.SHIPPED / "conservative.toml").read_text(encoding="utf-8")
    broken = own.replace(', source = "push-three" }', " }").replace(
        'extends = "demonstration"', 'extends = "demonstration"\nx = 1'
    )
    status, page = look(signed_in("sorrel"), file=SimpleUploadedFile("draft.toml", broken.encode()))

    assert status == 422
    text = page.one(id="faults").text
    assert "draft.toml cannot be adopted: 3 faults" in text
    lines = [number for number, line in enumerate(broken.splitlines(), 1) if line.startswith("count = ")]
    assert len(lines) == 2
    assert all(f"Line {number} treatments." in text for number in lines)


@pytest.mark.parametrize(
    "sent",
    [{"shipped": "../secret"}, {"shipped": ""}, {"file": SimpleUploadedFile("x.toml", b"\xff\xfe")}],
    ids=["no such set", "nothing chosen", "no text"],
)
def test_what_cannot_be_read_is_said(sent: Any, signed_in: Sign) -> None:
    status, page = look(signed_in("sorrel"), **sent)

    assert status == 422
    assert page.one("problem").text


def test_the_director_confirms_and_the_set_is_in_force(consult: Consult, signed_in: Sign) -> None:
    client = signed_in("sorrel")
    assert "not approved" in read(client.get("/board/").text).text

    answer = confirm(client)

    assert (answer.status_code, answer["Location"]) == (302, "/rules/")
    (line,) = queries.agency_journal(consult.cast.sorrel.agency)
    assert (line["data"]["by_way_of"], line["data"]["reason"]) == ("page", "the board agreed")
    assert consult.card["rule_set"]["digest"] == CONSERVATIVE.digest
    rules = read(client.get("/rules/").text)
    assert not rules.every("not-approved")
    assert "Dr. Sorrel the board agreed" in rules.one(id="adoptions").text
    board = read(client.get("/board/").text).text
    assert "not approved" not in board
    assert "local protocol and the licensed clinician decide" in rules.one("foot").text


def test_a_set_that_is_larger_than_any_entry_is_confirmed_too(cast: Cast, signed_in: Sign) -> None:
    """A demonstration with numbers of one's own is over 256 KiB, as much as any other form may bring."""
    own = DEMONSTRATION.text.replace('name = "demonstration"', 'name = "tamar-vale"', 1) + "# agreed\n" * 40_000
    assert 300_000 < len(own) < 1_000_000

    answer = confirm(
        signed_in("sorrel"), content=own, name="own.toml", digest=rule_set_files.read(own, "own.toml").digest
    )

    assert answer.status_code == 302
    (line,) = queries.agency_journal(cast.sorrel.agency)
    assert line["data"]["rule_set"]["name"] == "tamar-vale"


def test_once_approved_no_page_says_not_approved_neither_a_refusal_nor_the_crews(
    consult: Consult, signed_in: Sign
) -> None:
    pages = {"merrin": "/history/", "osk": f"/crew/{consult.uid}/"}
    before = {who: read(signed_in(who).get(path).text) for who, path in pages.items()}
    assert all("not approved" in page.text for page in before.values())
    assert before["osk"].one("foot").every("not-approved")

    confirm(signed_in("sorrel"))
    after = {who: read(signed_in(who).get(path).text) for who, path in pages.items()}
    assert all("not approved" not in page.text for page in after.values())
    assert "Rules conservative 1" in after["merrin"].text
    assert not after["osk"].one("foot").every("not-approved")


def test_the_demonstration_is_put_back_in_force_and_approved_by_nobody(
    consult: Consult, cast: Cast, signed_in: Sign
) -> None:
    client = signed_in("sorrel")
    confirm(client)
    asked = read(client.post(PAGE, {"shipped": "demonstration"}).text)
    assert "Put the demonstration back in force as" in asked.one(id="new").text
    assert "Approve as" not in asked.one(id="new").text
    content = {"content": DEMONSTRATION.text, "name": "demonstration.toml", "digest": DEMONSTRATION.digest}
    assert confirm(client, **content, replaces=CONSERVATIVE.digest).status_code == 302

    head = read(client.get("/rules/").text).one("rules-head").text
    assert "Demonstration rules, not approved. Put back in force by " in head
    assert "a demonstration, put back in force by" in read(client.get(PAGE).text).one("rules-head").text
    assert "not approved" in read(client.get("/board/").text).one("caution-tag").text
    assert consult.card["rule_set"]["approved"] is False
    assert client.get("/api/v1/rule-set/").json().get("approved") is None


def test_crews_are_told_of_new_rules_on_every_page_until_they_have_read_them(consult: Consult, signed_in: Sign) -> None:
    crew = signed_in("osk")
    pages = ("/crew/", f"/crew/{consult.uid}/", f"/crew/{consult.uid}/give/")

    def told() -> list[str]:
        return [read(crew.get(page).text).one(data_part="rules-news").text for page in pages]

    crew.get("/rules/")
    assert told() == ["", "", ""]
    confirm(signed_in("sorrel"))
    assert {each[:47] for each in told()} == {"The rules have changed: conservative 1 in force"}
    crew.get("/rules/")
    assert told() == ["", "", ""]


def test_a_changed_demonstration_under_its_old_name_is_refused(cast: Cast, signed_in: Sign) -> None:
    own = DEMONSTRATION.text.replace('title = "', 'title = "Own ', 1)
    answer = confirm(signed_in("sorrel"), content=own, digest=reader.loads(own).digest)

    assert answer.status_code == 422
    assert "Give a changed set a name of its own" in read(answer.text).one("problem").text
    assert queries.agency_journal(cast.sorrel.agency) == []


@pytest.mark.parametrize(
    "changed",
    [{"reason": " "}, {"reason": "x" * 501}, {"digest": "0" * 64}, {"replaces": "0" * 64}, {"content": "x = 1"}],
    ids=["no reason", "a reason too long", "other content than was shown", "replaced meanwhile", "faulty content"],
)
def test_what_was_not_looked_at_as_it_is_is_not_adopted(changed: Any, cast: Cast, signed_in: Sign) -> None:
    assert confirm(signed_in("sorrel"), **changed).status_code == 422
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_a_page_that_is_open_learns_by_its_cards_that_the_banner_is_another(consult: Consult, signed_in: Sign) -> None:
    before = named_by(consult)
    assert banner(signed_in) == before
    confirm(signed_in("sorrel"))

    assert banner(signed_in) == named_by(consult) != before


def named_by(consult: Consult) -> str:
    """The rule set that a card names, as the page's script compares it."""
    rules = consult.card["rule_set"]
    return f"{rules['digest']} {str(rules['approved']).lower()}"


def banner(signed_in: Sign) -> str | None:
    page = read(signed_in("merrin").get("/rules/banner/").text)
    assert "local protocol and the licensed clinician decide" in page.one(id="rules-caution").text
    return page.one(id="rules-tag").attributes["data-rules"]


def test_the_lines_of_an_adopted_file_end_as_they_did(signed_in: Sign) -> None:
    """A form sends each end of a line as carriage return and line feed (HTML, constructing an entry list)."""
    client = signed_in("sorrel")
    own = DEMONSTRATION.text.replace('name = "demonstration"', 'name = "own"', 1)
    sent = {"content": own.replace("\n", "\r\n"), "digest": reader.loads(own).digest}
    assert confirm(client, **sent).status_code == 302

    assert client.get("/rules/file/").text.endswith(own)


def test_the_form_says_how_many_numbers_are_unverified_as_the_rules_page_counts_them(signed_in: Sign) -> None:
    _, page = look(signed_in("sorrel"))

    told = page.one("doubt", id="unverified").text
    count = sum(each.mark == "memory" for part in whole(CONSERVATIVE).sections() for each in part.entries())
    assert count > 0
    assert told == f"{count} numbers are unverified: you adopt them as they are."
    assert "required" in page.one(id="unverified").one("input").attributes


@pytest.mark.parametrize("ticked", ["", "1"], ids=["not ticked", "another count"])
def test_nothing_is_adopted_before_its_unverified_numbers_are_taken_as_they_are(
    ticked: str, cast: Cast, signed_in: Sign
) -> None:
    answer = confirm(signed_in("sorrel"), unverified=ticked)

    assert answer.status_code == 422
    assert f"{unverified(CONSERVATIVE)} numbers are unverified: confirm" in read(answer.text).one("problem").text
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_two_goals_of_one_reason_are_told_apart_by_whom_they_are_for() -> None:
    whom = [row.who for row in goal_rows(DEMONSTRATION) if row.value == "110 mmHg" and "head injury" in row.who]
    assert whom == ["head injury, other adults", "head injury, 15 to 17 years"]
