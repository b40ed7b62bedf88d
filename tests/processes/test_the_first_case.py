"""What the README says under "Use it for real", word by word: from an empty database to a first case on the board."""

from __future__ import annotations

import re
import shlex
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client

from consult import access, clock
from consult.models import Agency

pytestmark = pytest.mark.django_db
README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
REAL = README.split("## Use it for real")[1].split("\n## ")[0]
SET_UP, FIRST_CASE, RULES = re.findall(r"```sh\n(.*?)```", REAL, re.DOTALL)
CHANGES = ("create_agency", "add_unit", "add_member", "issue_token")  # migrate and serve are what a test stands on


def printed(command: str, block: str = SET_UP) -> str:
    """The last line that the README's command prints: the link or the token."""
    (line,) = re.findall(rf"manage\.py ({command} .*)", block)
    out = StringIO()
    call_command(*shlex.split(line), stdout=out)
    return out.getvalue().splitlines()[-1]


def test_from_an_empty_database_to_a_first_case_on_the_board() -> None:
    access.forget_tokens()
    assert not Agency.objects.exists()
    assert [line.split()[2] for line in SET_UP.splitlines()[1:]] == ["migrate", *CHANGES, "serve"]

    _, _, link, token = (printed(command) for command in CHANGES)

    merrin = Client()
    password = {"new_password1": "seven dry lanterns", "new_password2": "seven dry lanterns"}
    landed = merrin.post(link.removeprefix("http://127.0.0.1:8000"), password, follow=True)
    assert landed.redirect_chain[-1][0] == "/board/"
    assert 'data-call="Heron 1"' not in landed.text

    _, url, *options = shlex.split(FIRST_CASE)
    given = [(options[place], options[place + 1]) for place in range(0, len(options), 2)]
    headers = dict(text.replace("$TOKEN", token).split(": ", 1) for name, text in given if name == "-H")
    (body,) = (
        re.sub(r"\$\(date .*?\)", f"{clock.now():%Y-%m-%dT%H:%M:%SZ}", text) for name, text in given if name == "-d"
    )
    content = headers.pop("Content-Type")
    opened = Client(headers=headers).post(url.removeprefix("http://127.0.0.1:8000"), body, content_type=content)

    assert opened.status_code == 201, opened.text
    board = merrin.get("/board/").text
    assert 'data-call="Heron 1"' in board
    assert "pale, drowsy" in board
    assert "Crews call 555 0100" in board


def test_a_medical_director_adopts_a_rule_set() -> None:
    printed("create_agency")
    for line in RULES.splitlines():
        printed(line.split()[2], RULES)

    record = Agency.objects.get().rule_set
    assert record
    assert (record.name, record.approved_by and record.approved_by.name) == ("conservative", "Dr. Linnea Sorrel")


def test_the_crew_sees_what_it_calls_and_can_press_it() -> None:
    for command in ("create_agency", "add_unit"):
        printed(command)
    out = StringIO()
    call_command("add_member", "Tamar Vale EMS", "osk", "--role", "crew", "--unit", "Heron 1", stdout=out)
    link = out.getvalue().splitlines()[-1].removeprefix("http://127.0.0.1:8000")
    osk = Client()
    page = osk.post(link, {"new_password1": "seven dry lanterns", "new_password2": "seven dry lanterns"}, follow=True)
    assert page.redirect_chain[-1][0] == "/crew/"
    assert 'href="tel:5550100"' in page.text
