"""Sheets to print: a handover on A4 or a receipt, and the downtime sheet of all open cases, in a file."""

from __future__ import annotations

import re
import stat
from pathlib import Path
from uuid import uuid4

import pytest

from consult import tasks
from consult.actions import cases, downtime, notes
from consult.models import Unit
from tests.conftest import NOON, Cast, Consult, child, later, open_consult
from tests.consult.test_arrest import phase, shock
from tests.consult.test_containers import hang
from tests.screens.conftest import Sign
from tests.screens.page_text import read
from tests.screens.test_consults_without_a_drug import REFUSAL, ask, tell

pytestmark = pytest.mark.django_db
CAUTION = "Decision support: local protocol and the licensed clinician decide."


@pytest.fixture
def folder(settings, tmp_path: Path) -> Path:
    settings.DOWNTIME_FOLDER = tmp_path / "downtime"
    return tmp_path / "downtime"


@pytest.fixture
def told(consult: Consult) -> Consult:
    """A pressure, an arrest with a shock, an infusion that runs, a request that waits."""
    consult.vitals(at=NOON, sbp=74, dbp=44)
    phase(consult, "arrest", later(minutes=1))
    shock(consult, later(minutes=2))
    phase(consult, "pulse_back", later(minutes=5))
    hang(consult)
    consult.ask(at=later(minutes=6))
    notes.add_note(consult.cast.osk, consult.uid, {"id": uuid4(), "at": NOON, "text": "Husband has the keys"}, NOON)
    return consult


KEYS = "Husband has the keys"
WHAT_IT_HOLDS = [
    "Kestrel 2",
    "MAP 54",
    "Cardiac arrest",
    "1 shock",
    "norepinephrine infusion",
    "requested",
    KEYS,
    CAUTION,
]


@pytest.mark.parametrize("who", ["osk", "merrin", "averill", "sorrel"])
def test_who_may_see_the_case_may_print_its_handover(signed_in: Sign, told: Consult, who: str) -> None:
    text = read(signed_in(who).get(f"/cases/{told.uid}/handover/").text).text
    assert [each for each in [*WHAT_IT_HOLDS, "As of"] if each not in text] == []


def test_of_a_case_that_has_ended_it_says_so(signed_in: Sign, told: Consult) -> None:
    """What "runs" there ran when the patient was handed over."""
    page = f"/cases/{told.uid}/handover/"
    assert "This case was" not in read(signed_in("osk").get(page).text).text
    at = later(minutes=9)
    cases.handover(told.cast.osk, told.uid, {"id": uuid4(), "at": at, "to": "Brindle Vale General"}, at)
    assert re.search(
        r"This case was handed over at .*12:09\.", read(signed_in("merrin").get(page).text).one("sheet-head").text
    )


def test_nobody_else_may(signed_in: Sign, told: Consult) -> None:
    for who in ("lund", "vane", "tarn"):
        assert signed_in(who).get(f"/cases/{told.uid}/handover/").status_code == 404


@pytest.mark.parametrize(
    ("asked", "paper"), [("", "a4"), ("?paper=a4", "a4"), ("?paper=receipt", "receipt"), ("?paper=wall", "a4")]
)
def test_it_is_for_the_paper_that_was_asked_for(signed_in: Sign, told: Consult, asked: str, paper: str) -> None:
    assert f'data-paper="{paper}"' in signed_in("osk").get(f"/cases/{told.uid}/handover/{asked}").text


def test_no_number_on_it_grows_old(signed_in: Sign, told: Consult) -> None:
    """On paper "4 min ago" would be wrong a minute later: a time of day stands there."""
    assert "data-age" not in signed_in("osk").get(f"/cases/{told.uid}/handover/").text


@pytest.mark.parametrize(("who", "status"), [("merrin", 200), ("averill", 200), ("sorrel", 200), ("osk", 403)])
def test_the_downtime_sheet_is_for_those_of_the_board(signed_in: Sign, told: Consult, who: str, status: int) -> None:
    answer = signed_in(who).get("/board/downtime/")
    assert answer.status_code == status
    if status == 200:
        text = read(answer.text).text
        assert [each for each in [*WHAT_IT_HOLDS, "1 open case"] if each not in text] == []


def test_two_patients_of_one_unit_are_told_apart_by_their_letter(signed_in: Sign, consult: Consult) -> None:
    open_consult(consult.cast, child(5, 18))
    page = read(signed_in("merrin").get("/board/downtime/").text)

    assert sorted(each.text.split(" medical")[0] for each in page.every("h2")) == ["Kestrel 2 A", "Kestrel 2 B"]
    assert {each.attributes["aria-label"] for each in page.every("sheet-case")} == {"Kestrel 2 A", "Kestrel 2 B"}


def test_it_shows_no_case_of_another_agency(signed_in: Sign, told: Consult) -> None:
    assert "Kestrel 2" not in signed_in("vane").get("/board/downtime/").text


def test_the_file_is_at_hand_without_a_server_and_for_its_owner_alone(told: Consult, folder: Path) -> None:
    tasks.write_downtime_sheets()
    sheets = sorted(folder.glob("*.html"))
    texts = [read(sheet.read_text()).text for sheet in sheets]
    (ours,) = [text for text in texts if "Kestrel 2" in text]

    assert len(sheets) == 2  # one an agency
    assert [each for each in WHAT_IT_HOLDS if each not in ours] == []
    assert [CAUTION in text for text in texts] == [True, True]
    assert (folder / "print.css").exists()
    modes = {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()}
    assert (modes, stat.S_IMODE(folder.stat().st_mode)) == ({0o600}, 0o700)


def test_it_says_how_a_unit_is_reached_and_what_was_refused(cast: Cast, folder: Path) -> None:
    Unit.objects.filter(pk=cast.osk.unit).update(call="channel MED 4")
    case = open_consult(cast)
    asked = ask(case, "refusal", form=REFUSAL)
    tell(case, question=asked, text="May stay, son to call.", decision="agreed")
    case.vitals(at=NOON, sbp=74, dbp=44)
    downtime.write(NOON)
    (ours,) = [text for sheet in folder.glob("*.html") if "Kestrel 2" in (text := read(sheet.read_text()).text)]
    for text in (
        "unit reached by channel MED 4",
        "Refusal of care",
        "May stay, son to call.",
        f"As of {NOON.day} {NOON:%b %Y}",
    ):
        assert text in ours


def test_a_patient_who_was_handed_over_is_on_no_sheet_any_more(told: Consult, folder: Path) -> None:
    downtime.write(NOON)
    assert any("Kestrel 2" in sheet.read_text() for sheet in folder.glob("*.html"))
    cases.handover(told.cast.osk, told.uid, {"to": "Harbor General", "at": later(minutes=7)}, later(minutes=7))
    downtime.write(later(minutes=8))
    assert not any("Kestrel 2" in sheet.read_text() for sheet in folder.glob("*.html"))
    assert not list(folder.glob("*.new"))
