"""The seals outside the database: they know what was cut off there, and the database knows what was done to them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core import signing

from consult.access import Actor
from consult.actions import cases
from consult.journal import seal_file, seals, triggers, verify
from consult.models import Agency, Case, JournalEntry, Sealing
from tests.conftest import NOON, Cast, Consult, later, open_consult
from tests.copying import replace


@pytest.fixture
def sealed(consult: Consult) -> Consult:
    """A case that moved in each of four minutes, of which a physician has control, and four lines of seals."""
    cases.accept(consult.cast.merrin, consult.uid, {}, NOON)
    for minute in range(4):
        consult.vitals(at=later(minutes=2 * minute), sbp=100 - minute, dbp=50)
        assert seals.seal(later(minutes=2 * minute)) == 1
    return consult


def first_fault(consult: Consult, by: Actor | None = None) -> Any:
    return verify.verified(by or consult.cast.averill, None, later(minutes=20))["first_fault"]


def cut_off(consult: Consult, kept: int) -> None:
    """Take the end off a case's journal, so that nothing inside the database shows it."""
    triggers.lift()
    JournalEntry.objects.filter(case=consult.row, seq__gt=kept)._raw_delete("default")
    last = JournalEntry.objects.get(case=consult.row, seq=kept)
    Case.objects.filter(pk=consult.row.pk).update(seq=kept, head=last.digest)
    assert verify.fault_in(consult.row) is None


def test_seals_and_journal_that_nobody_touched_are_intact(sealed: Consult) -> None:
    assert first_fault(sealed) is None
    seals.seal(later(minutes=20))
    assert seals.seal(later(minutes=30)) == 0, "nothing has moved"
    assert first_fault(sealed) is None


def test_an_end_that_was_cut_off_everywhere_is_known(sealed: Consult) -> None:
    cut_off(sealed, kept=3)

    fault = first_fault(sealed)
    assert (fault["case"], fault["seq"], fault["what"]) == (str(sealed.uid), 6, "a sealed line is missing")


def test_a_case_that_was_taken_away_with_its_journal_is_known(sealed: Consult) -> None:
    triggers.lift()
    case = sealed.row.pk
    JournalEntry.objects.filter(case=case)._raw_delete("default")
    Case.objects.filter(pk=case).update(uid=uuid4(), seq=0, head="")

    check = verify.run(sealed.cast.averill.agency, later(minutes=20))
    assert check.first_fault == {"case": str(sealed.uid), "seq": 6, "what": "a sealed journal is missing"}


# ---- one case id in two agencies


@pytest.fixture
def of_both(cast: Cast) -> tuple[Consult, Consult]:
    """Each agency has a case of the same id: ids are unique in an agency, not in the world."""
    ours = open_consult(cast)
    others = replace(cast, osk=cast.tarn)
    open_consult(others, id=ours.uid)
    there = Consult(others, ours.uid)
    for minute, each in enumerate([ours, ours, there]):
        each.vitals(at=later(minutes=minute), sbp=100, dbp=50)
    assert seals.seal(later(minutes=3)) == 2
    return ours, there


def test_another_agencys_case_of_the_same_id_spoils_nothing(of_both: tuple[Consult, Consult]) -> None:
    ours, there = of_both

    assert first_fault(ours) is None
    assert first_fault(there, replace(ours.cast.vane, role="supervisor")) is None


def test_nor_does_it_hide_what_was_cut_off(of_both: tuple[Consult, Consult]) -> None:
    ours, there = of_both
    there.vitals(at=later(minutes=4), sbp=90, dbp=50)
    seals.seal(later(minutes=5))
    triggers.lift()
    case = Case.objects.get(uid=ours.uid, agency=ours.cast.osk.agency)
    JournalEntry.objects.filter(case=case, seq=3)._raw_delete("default")
    last = JournalEntry.objects.get(case=case, seq=2)
    Case.objects.filter(pk=case.pk).update(seq=2, head=last.digest)

    assert first_fault(ours)["what"] == "a sealed line is missing"


# ---- the seals themselves


def _lines(change: Callable[[list[bytes]], list[bytes]]) -> Callable[[Path], None]:
    def act(file: Path) -> None:
        file.write_bytes(b"".join(change(file.read_bytes().splitlines(keepends=True))))

    return act


def _signed(**content: Any) -> bytes:
    return signing.dumps(content, salt=seal_file.SALT).encode() + b"\n"


DONE_TO_THE_FILE: dict[str, tuple[Callable[[Path], Any], int]] = {
    "removed": (Path.unlink, 1),
    "emptied": (lambda file: file.write_bytes(b""), 1),
    "the first line removed": (_lines(lambda lines: lines[1:]), 1),
    "a line removed": (_lines(lambda lines: lines[:1] + lines[2:]), 2),
    "the end cut off": (_lines(lambda lines: lines[:3]), 4),
    "the end cut within a line": (_lines(lambda lines: [*lines[:3], lines[3][:20]]), 4),
    "two lines exchanged": (_lines(lambda lines: [lines[0], lines[2], lines[1], lines[3]]), 2),
    "a line twice": (_lines(lambda lines: [lines[0], *lines]), 2),
    "a signature changed": (_lines(lambda lines: [*lines[:2], lines[2][:-4] + b"AAA\n", lines[3]]), 3),
    "what is no signed line": (_lines(lambda lines: [*lines, b"forged\n"]), 5),
    "bytes that are no text": (_lines(lambda lines: [*lines, b"\xff\xfe:\x00:\x01\n"]), 5),
    "a signed line that says something else": (_lines(lambda lines: [*lines, _signed(line="five", heads=7)]), 5),
    "a signed line of the old shape": (_lines(lambda lines: [*lines, _signed(at="", heads=[["case", 2, "aa"]])]), 5),
    "replaced by a chain as good": (lambda file: _replaced(file), 4),
}


def _replaced(file: Path) -> None:
    """By somebody who has the key, but not the database."""
    file.unlink()
    place = seal_file.Place()
    for minute in range(4):
        place = seal_file.append(place, [], later(minutes=minute))


@pytest.mark.parametrize("after_a_run", [False, True], ids=["", "after a run"])
@pytest.mark.parametrize("name", DONE_TO_THE_FILE)
def test_whatever_is_done_to_the_seals_is_seen(
    sealed: Consult, seals_file: Path, name: str, *, after_a_run: bool
) -> None:
    act, line = DONE_TO_THE_FILE[name]
    if after_a_run:
        verify.run(sealed.cast.averill.agency, later(minutes=10))
    act(seals_file)

    check = verify.run(sealed.cast.averill.agency, later(minutes=19))
    assert check.first_fault is not None
    assert check.first_fault["seals_line"] == line
    assert first_fault(sealed) == check.first_fault


@pytest.mark.parametrize("name", ["removed", "emptied", "a line removed", "the end cut off"])
def test_later_seals_do_not_cover_it_up(sealed: Consult, seals_file: Path, name: str) -> None:
    act, _ = DONE_TO_THE_FILE[name]
    act(seals_file)
    sealed.vitals(at=later(minutes=12), sbp=90, dbp=50)
    assert seals.seal(later(minutes=12)) == 1

    assert first_fault(sealed) is not None


def test_without_the_row_that_says_so_the_last_run_knows_that_there_were_seals(
    sealed: Consult, seals_file: Path
) -> None:
    verify.run(sealed.cast.averill.agency, later(minutes=10))
    Sealing.objects.all().delete()
    seals_file.unlink()

    assert first_fault(sealed) == {"seals_line": 1, "what": "the seals are missing"}


def test_before_anything_was_sealed_there_is_nothing_to_miss(consult: Consult) -> None:
    assert first_fault(consult) is None


# ---- a process that dies while it seals


def test_a_line_whose_transaction_was_lost_is_taken_up(sealed: Consult, seals_file: Path) -> None:
    known = Sealing.objects.values().get()
    sealed.vitals(at=later(minutes=12), sbp=90, dbp=50)
    seals.seal(later(minutes=12))
    Sealing.objects.update(**known)
    sealed.vitals(at=later(minutes=14), sbp=90, dbp=50)
    seals.seal(later(minutes=14))

    assert first_fault(sealed) is None
    assert seals.read().place.lines == 6


def test_a_line_that_was_half_written_is_written_anew(sealed: Consult, seals_file: Path) -> None:
    with seals_file.open("ab") as out:
        out.write(b"eJyrVkrM")
    assert first_fault(sealed) is None, "perhaps it is being written this moment"
    sealed.vitals(at=later(minutes=12), sbp=90, dbp=50)
    seals.seal(later(minutes=12))

    assert first_fault(sealed) is None
    assert seals.read().place.lines == 5


# ---- how much is read


def test_after_a_run_only_what_came_since_is_read(sealed: Consult, monkeypatch: pytest.MonkeyPatch) -> None:
    verify.run(sealed.cast.averill.agency, later(minutes=10))
    sealed.vitals(at=later(minutes=12), sbp=90, dbp=50)
    seals.seal(later(minutes=12))
    read = []
    line_of = seal_file._seal
    monkeypatch.setattr(seal_file, "_seal", lambda *at: read.append(at[1].lines + 1) or line_of(*at))

    cut_off(sealed, kept=5)
    assert first_fault(sealed)["what"] == "a sealed line is missing"
    assert read == [5]


def test_a_case_is_held_against_the_seals_since_it_was_opened(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    for minute in range(3):
        open_consult(cast, opened_at=NOON)
        seals.seal(later(minutes=2 * minute))
    verify.run(cast.averill.agency, later(minutes=-1))
    consult = open_consult(cast)
    consult.vitals(at=later(minutes=9), sbp=90, dbp=50)
    seals.seal(later(minutes=9))
    cut_off(consult, kept=1)

    answer = verify.verified(cast.averill, consult.row, later(minutes=20))
    assert answer["first_fault"]["what"] == "a sealed line is missing"


def test_the_agencys_own_journal_is_sealed_by_its_agency(cast: Cast) -> None:
    from consult.actions import rule_sets
    from dosing.load import reader

    rules = reader.load_shipped("conservative")
    rule_sets.adopt(cast.sorrel, rules, NOON, reason="", by_way_of="command")
    seals.seal(later(minutes=1))

    agency = Agency.objects.get(pk=cast.sorrel.agency)
    assert seals.read().heads == {(str(agency.pk), None): (1, agency.head)}
