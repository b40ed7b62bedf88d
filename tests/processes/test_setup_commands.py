"""A service sets itself up by commands: what each makes, prints and writes into the agency's journal, and refuses."""

from __future__ import annotations

import json
from io import StringIO
from typing import Any
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command

from consult import access, clock, directory, problems, queries
from consult.models import Agency, DeviceToken, Membership, SignInLink, Unit, User

pytestmark = pytest.mark.django_db
TAMAR = "Tamar Vale EMS"


def made(command: str, *words: str, **options: Any) -> dict[str, Any]:
    """The one JSON object that the command prints."""
    out = StringIO()
    call_command(command, *words, "--json", stdout=out, **options)
    assert out.getvalue().count("\n") == 1
    return json.loads(out.getvalue())


def refused(*words: str) -> str:
    """The sentence with which the command ends."""
    out = StringIO()
    with pytest.raises(CommandError) as error:
        call_command(*words, stdout=out)
    assert out.getvalue() == ""
    assert error.value.returncode == 1
    return str(error.value)


def journal() -> list[dict[str, Any]]:
    """The agency's own journal, oldest first."""
    return queries.agency_journal(directory.agency_named(TAMAR).pk)[::-1]


@pytest.fixture
def tamar(db: None) -> Agency:
    """An agency with one unit, Heron 1, as the commands make them; beside it another agency with Wren 9."""
    access.forget_tokens()
    for name, call_sign in ((TAMAR, "Heron 1"), ("Fal Rescue", "Wren 9")):
        call_command("create_agency", name, "--timezone", "Europe/Dublin", stdout=StringIO())
        call_command("add_unit", name, call_sign, stdout=StringIO())
    return directory.agency_named(TAMAR)


class TestWhatTheyMake:
    def test_an_agency_starts_with_the_demonstration_rules_that_nobody_approved(self) -> None:
        told = {"call_back": "020 555 0100", "notify": "duty manager, 020 555 0199"}
        words = ["--call-back", told["call_back"], "--notify", told["notify"]]
        answer = made("create_agency", "  Tamar  Vale EMS ", "--timezone", "europe/dublin", *words)
        agency = Agency.objects.select_related("rule_set").get(pk=UUID(answer["id"]))
        assert (agency.name, agency.timezone) == (TAMAR, "Europe/Dublin")
        assert {name: answer[name] for name in told} == told == {name: getattr(agency, name) for name in told}
        assert answer["rule_set"]["name"] == agency.rule_set.name == "demonstration"
        assert agency.rule_set.approved_at is None

    @pytest.mark.parametrize("by", ["name", "another case", "id"])
    def test_an_agency_is_named_by_its_name_in_any_case_or_by_its_id(self, tamar: Agency, by: str) -> None:
        words = {"name": TAMAR, "another case": " tamar VALE ems", "id": str(tamar.pk)}
        answer = made("add_unit", words[by], "Plover 2")
        assert Unit.objects.get(pk=UUID(answer["id"])).agency == tamar

    def test_a_unit_is_reached_by_a_number_or_a_channel(self, tamar: Agency) -> None:
        answer = made("add_unit", TAMAR, "Plover 2", "--call", " 555  0142 ")
        assert answer["call"] == Unit.objects.get(pk=UUID(answer["id"])).call == "555 0142"

    def test_a_member_gets_an_account_without_a_password_and_a_link(self, tamar: Agency) -> None:
        answer = made("add_member", TAMAR, "Merrin", "--role", "physician", "--name", "Dr. Ida Merrin")
        member = Membership.objects.get(pk=UUID(answer["id"]))
        assert (member.user.username, member.user.display_name) == ("merrin", "Dr. Ida Merrin")
        assert (member.role, member.unit, member.user.has_usable_password()) == ("physician", None, False)
        text = answer["link"].removeprefix("http://127.0.0.1:8000/sign-in/link/").removesuffix("/")
        link = SignInLink.objects.get(membership=member)
        assert link.digest == access.token_digest(text)
        assert (link.expires_at - link.created_at).total_seconds() == 24 * 3600

    def test_the_link_leads_to_the_board_and_lives_as_long_as_is_said(self, tamar: Agency, settings: Any) -> None:
        words = [TAMAR, "osk", "--role", "crew", "--unit", "heron 1"]
        answer = made("add_member", *words, "--base", "https://board.example.org/", "--hours", "48")
        assert answer["link"].startswith("https://board.example.org/sign-in/link/")
        link = SignInLink.objects.get()
        assert (link.expires_at - link.created_at).total_seconds() == 48 * 3600
        settings.HTTPS, settings.ALLOWED_HOSTS = True, ["consult.example.org"]
        again = made("sign_in_link", TAMAR, "osk")
        assert again["link"].startswith("https://consult.example.org/sign-in/link/")

    def test_who_has_a_password_already_keeps_it_and_gets_no_link(self, tamar: Agency) -> None:
        User.objects.create_user("vane", password="seven dry lanterns")
        answer = made("add_member", TAMAR, "VANE", "--role", "supervisor")
        assert answer["link"] is None
        assert User.objects.get(username="vane").check_password("seven dry lanterns")

    def test_a_token_acts_as_the_units_device_until_it_is_revoked(self, tamar: Agency) -> None:
        answer = made("issue_token", TAMAR, "HERON 1", "--name", "tablet 1")
        actor = access.actor_for_token(answer["token"], clock.now())
        assert (actor.agency, actor.role, str(actor.unit)) == (tamar.pk, "crew", answer["unit"])
        assert actor.name == "tablet 1"
        assert DeviceToken.objects.get().digest == access.token_digest(answer["token"])
        made("revoke_token", TAMAR, "Heron 1", "--name", "Tablet 1")
        with pytest.raises(problems.NotSignedIn):
            access.actor_for_token(answer["token"], clock.now())
        assert made("issue_token", TAMAR, "heron 1", "--name", "tablet 1")["token"] != answer["token"]

    def test_an_agency_is_told_by_mail_and_by_signed_posts_until_it_is_told_no_longer(self, tamar: Agency) -> None:
        mail = made("notify_by", TAMAR, "--email", "duty@example.org")
        hook = made("notify_by", TAMAR, "--webhook", "https://example.org/hook?key=7")
        assert (mail["address"], "secret" in mail, len(hook["secret"])) == ("duty@example.org", False, 43)
        told = {"failing_since": None, "failure": ""}
        both = [{"address": address, **told} for address in ("duty@example.org", "https://example.org/hook?key=7")]
        assert made("notify_by", TAMAR)["destinations"] == both
        made("notify_by", TAMAR, "--end", "duty@example.org")
        assert made("notify_by", TAMAR)["destinations"] == both[1:]
        lines = [line["data"] for line in journal() if line["kind"].startswith("destination.")]
        assert [line["address"] for line in lines] == ["duty@example.org", "example.org", "duty@example.org"]
        assert hook["secret"] not in json.dumps(lines, default=str)

    def test_who_ends_is_ended_in_this_agency_alone(self, tamar: Agency) -> None:
        for words in ([TAMAR, "vane", "--role", "physician"], [TAMAR, "vane", "--role", "supervisor"]):
            made("add_member", *words)
        elsewhere = made("add_member", "Fal Rescue", "vane", "--role", "physician")
        ended = made("end_membership", TAMAR, "vane")["ended"]
        assert len(ended) == 2
        still = Membership.objects.filter(user__username="vane", ended_at=None)
        assert [str(member.pk) for member in still] == [elsewhere["id"]]

    def test_each_change_has_its_line_in_the_agencys_journal_without_any_secret(self, tamar: Agency) -> None:
        link = made("add_member", TAMAR, "merrin", "--role", "physician")["link"]
        token = made("issue_token", TAMAR, "Heron 1", "--name", "tablet 1")["token"]
        made("revoke_token", TAMAR, "Heron 1", "--name", "tablet 1")
        made("end_membership", TAMAR, "merrin")
        lines = journal()
        assert [line["kind"] for line in lines] == [
            "agency.created",
            "unit.added",
            "member.added",
            "sign_in_link.issued",
            "token.issued",
            "token.revoked",
            "member.ended",
        ]
        assert {line["data"]["operator"] for line in lines} != {""}
        assert [line["data"].get("username") for line in lines[2:4]] == ["merrin", "merrin"]
        written = json.dumps(lines, default=str)
        assert token not in written
        assert link.split("/")[-2] not in written
        call_command("verify_journal", stdout=StringIO())


REFUSALS = {
    "an agency there is none of": (["add_unit", "Nowhere", "Heron 1"], "There is no agency 'Nowhere'"),
    "an agency's name in use": (
        ["create_agency", "tamar vale  EMS", "--timezone", "UTC"],
        "an agency 'Tamar Vale EMS'",
    ),
    "a blank name": (["create_agency", "  ", "--timezone", "UTC"], "at least one letter or digit"),
    "a name of dots": (["create_agency", "...", "--timezone", "UTC"], "at least one letter or digit"),
    "an invisible character": (["create_agency", "Fal\u200b EMS", "--timezone", "UTC"], "cannot be seen"),
    "a filler that draws nothing": (["add_unit", TAMAR, "\u3164"], "cannot be seen"),
    "a turn of direction": (["add_unit", TAMAR, "Heron \u202e1"], "cannot be seen"),
    "a long name": (["add_unit", TAMAR, "H" * 41], "41 characters, at most 40 fit"),
    "a zone there is none of": (
        ["create_agency", "Lynher", "--timezone", "Mars/Olympus"],
        "time zone 'Mars/Olympus'",
    ),
    "a path for a zone": (["create_agency", "Lynher", "--timezone", "../UTC"], "no time zone"),
    "a call sign in use": (["add_unit", TAMAR, "HERON 1"], "has a unit 'Heron 1' already"),
    "a role there is none of": (["add_member", TAMAR, "osk", "--role", "chief"], "The roles are crew, physician"),
    "crew without a unit": (["add_member", TAMAR, "osk", "--role", "crew"], "name it by --unit"),
    "a physician of a unit": (
        ["add_member", TAMAR, "osk", "--role", "physician", "--unit", "Heron 1"],
        "A physician has no unit",
    ),
    "another agency's unit": (
        ["add_member", TAMAR, "osk", "--role", "crew", "--unit", "Wren 9"],
        "Tamar Vale EMS has no unit 'Wren 9'",
    ),
    "a user name with a space": (["add_member", TAMAR, "j osk", "--role", "physician"], "no spaces"),
    "who is that already": (
        ["add_member", TAMAR, "LUND", "--role", "physician"],
        "'lund' is physician in Tamar",
    ),
    "a deactivated account": (["add_member", TAMAR, "quill", "--role", "physician"], "'quill' is deactivated"),
    "an address that is none": (["sign_in_link", TAMAR, "lund", "--base", "board"], "--base needs an address"),
    "a link without an end": (["sign_in_link", TAMAR, "lund", "--hours", "0"], "a number from 1 to 168"),
    "a device's name in use": (["issue_token", TAMAR, "Heron 1", "--name", "TABLET"], "has a device 'tablet'"),
    "a token of another agency's unit": (["issue_token", TAMAR, "Wren 9", "--name", "x1"], "has no unit 'Wren 9'"),
    "a device there is none of": (["revoke_token", TAMAR, "Heron 1", "--name", "x1"], "has no device 'x1'"),
    "who is no member": (["end_membership", TAMAR, "nobody"], "has no member 'nobody'"),
    "an address that is told already": (
        ["notify_by", TAMAR, "--email", "duty@example.org"],
        "is already notified at duty@example",
    ),
    "an address that is told nothing": (
        ["notify_by", TAMAR, "--end", "a@example.org"],
        "is not notified at 'a@example",
    ),
    "a mail address that is none": (["notify_by", TAMAR, "--email", "duty"], "'duty' is not an e-mail address"),
    "posts over plain http": (["notify_by", TAMAR, "--webhook", "http://example.org"], "such as https://"),
    "bytes that are no text": (["end_membership", TAMAR, "\udcff"], "letters a to z"),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_what_cannot_be_done_is_refused_in_a_sentence_and_changes_nothing(tamar: Agency, name: str) -> None:
    made("add_member", TAMAR, "lund", "--role", "physician")
    made("issue_token", TAMAR, "Heron 1", "--name", "tablet")
    made("notify_by", TAMAR, "--email", "duty@example.org")
    User.objects.create_user("quill", is_active=False)
    before = journal()
    words, sentence = REFUSALS[name]

    told = refused(*words)

    assert sentence in told
    assert "\n" not in told
    assert journal() == before
    assert Agency.objects.count() == 2


def test_names_that_only_unicode_folds_are_the_same_name(tamar: Agency) -> None:
    """SQLite's own lower() knows ASCII alone (sqlite.org, "Built-In Scalar SQL Functions")."""
    made("add_unit", TAMAR, "Ærø 1")
    assert "'Ærø 1' already" in refused("add_unit", TAMAR, "ÆRØ 1")
    assert made("issue_token", TAMAR, "ærø 1", "--name", "tablet")["token"]


def test_a_database_without_tables_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from django.db import connection

    monkeypatch.setattr(connection.introspection, "table_names", lambda *_: [])
    assert "run manage.py migrate first" in refused("create_agency", TAMAR, "--timezone", "UTC")


def test_a_database_that_does_not_answer_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from django.db import OperationalError, connection

    def away(*_: Any) -> list[str]:
        raise OperationalError("connection refused\nIs the server running?")

    monkeypatch.setattr(connection.introspection, "table_names", away)
    assert refused("create_agency", TAMAR, "--timezone", "UTC") == "The database failed: connection refused"
