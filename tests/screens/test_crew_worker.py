"""The script that keeps the crew's pages: what it names is there, and which pages may be kept."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.test import Client

from consult.actions import cases
from consult.screens import crew_worker
from consult.screens.crew_not_sent import BLANK, PAGES, WEIGHT, WHO
from tests.conftest import NOON, Consult
from tests.screens.conftest import Sign
from tests.screens.page_text import read
from tests.screens.test_crew import CASE_PAGES

pytestmark = pytest.mark.django_db


def test_it_is_a_script_of_our_own_with_a_version_and_files_that_are_there(client: Client) -> None:
    answer = client.get("/crew/worker.js")
    text = answer.content.decode()
    version = re.match(r'const VERSION = "([0-9a-f]{12})";', text)
    files = json.loads(text.partition("const FILES = ")[2].partition(";\n")[0])
    assert (answer["Content-Type"], answer["Cache-Control"]) == ("text/javascript; charset=utf-8", "no-store")
    assert version
    assert "/static/crew/crew.js" in files
    assert [client.get(name).status_code for name in files] == [200] * len(files)


def test_another_template_is_another_version(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    crew_worker.script.cache_clear()
    one = crew_worker.script()[:40]
    (tmp_path / "page.html").write_text("another")
    monkeypatch.setattr(crew_worker, "TEMPLATES", tmp_path)
    crew_worker.script.cache_clear()
    assert crew_worker.script()[:40] != one
    monkeypatch.undo()
    crew_worker.script.cache_clear()
    assert crew_worker.script()[:40] == one


@pytest.mark.usefixtures("at_noon")
@pytest.mark.parametrize("path", CASE_PAGES)
def test_only_the_pages_of_an_open_case_may_be_kept_and_say_whose_they_are(
    path: str, consult: Consult, signed_in: Sign
) -> None:
    crew, address = signed_in("osk"), f"/crew/{consult.uid}/{path}"
    assert crew.get(address)["X-Membership"] == str(consult.cast.osk.membership)
    cases.close(consult.cast.osk, consult.uid, {"outcome": "cancelled"}, NOON)
    assert "X-Membership" not in crew.get(address)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_for_a_case_that_is_not_sent_yet_has_blanks_for_whom(name: str, consult: Consult, signed_in: Sign):
    answer = signed_in("osk").get(f"/crew/not-sent/{name}/")

    page = read(answer.text)
    assert answer.headers["X-Membership"] == str(consult.cast.osk.membership)
    assert page.one("patient").text.split() == ["Kestrel", "2", f"{WHO},", WEIGHT]
    assert f'data-case="{BLANK}"' in answer.text
    assert str(consult.uid) not in page.one("main").text
