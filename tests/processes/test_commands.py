"""`verify_journal` finds what was changed or cut off; `rebuild_cards` makes every card as today's code would."""

import re
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command, get_commands, load_command_class

from consult.journal import seals, triggers
from consult.models import Case, JournalEntry, Vitals
from tests.conftest import NOON, later

DOCS = Path(__file__).resolve().parents[2] / "docs"


@pytest.fixture
def unguarded(consult):
    """A case with three readings, its journal sealed, in a database whose triggers somebody has taken off."""
    for minute in range(3):
        consult.vitals(at=later(minutes=minute), sbp=90 + minute, dbp=50)
    seals.seal(later(minutes=5))
    triggers.lift()
    yield consult
    triggers.install()


def said(command: str, *options: str) -> str:
    out = StringIO()
    call_command(command, *options, stdout=out)
    return out.getvalue()


def checked_by_other_means(lines: Path) -> subprocess.CompletedProcess[str]:
    """The script of docs/journal.md, with nothing but Python's own library."""
    script = re.search(r"```python\n(.*?)```", (DOCS / "journal.md").read_text(encoding="utf-8"), re.DOTALL)
    assert script
    return subprocess.run(
        [sys.executable, "-I", "-c", script[1], str(lines)], capture_output=True, text=True, check=False
    )


class TestVerifyJournal:
    def test_an_untouched_journal_is_intact(self, unguarded):
        assert "The journal is intact." in said("verify_journal")

    def test_a_changed_line_is_named(self, unguarded):
        JournalEntry.objects.filter(case=unguarded.row, seq=2).update(data='{"sbp": 120}')
        with pytest.raises(CommandError, match=f"case {unguarded.uid}, entry 2"):
            said("verify_journal")

    def test_a_removed_line_is_named(self, unguarded):
        JournalEntry.objects.filter(case=unguarded.row, seq=2).delete()
        with pytest.raises(CommandError, match=f"case {unguarded.uid}, entry 2"):
            said("verify_journal")

    def test_an_end_that_was_cut_off_with_care_is_known_by_its_seal(self, unguarded):
        case = unguarded.row
        last = JournalEntry.objects.filter(case=case).order_by("seq").last()
        last.delete()
        kept = JournalEntry.objects.filter(case=case).order_by("seq").last()
        Case.objects.filter(pk=case.pk).update(seq=kept.seq, head=kept.digest)
        with pytest.raises(CommandError, match=f"case {unguarded.uid}, entry {last.seq}: a sealed line is missing"):
            said("verify_journal")

    def test_a_seal_that_was_rewritten_is_known(self, unguarded, seals_file):
        seals_file.write_text(seals_file.read_text().replace(":", "x:", 1))
        with pytest.raises(CommandError, match="seals file, line 1: the line was not signed by this board"):
            said("verify_journal")

    def test_its_lines_are_checked_with_nothing_of_ours(self, unguarded, tmp_path):
        lines = tmp_path / "lines.csv"
        said("verify_journal", "--csv", str(lines))
        assert checked_by_other_means(lines).stdout == "1 journals are intact\n"

        lines.write_text(lines.read_text(encoding="utf-8").replace("Osk", "Ost", 1), encoding="utf-8")
        assert checked_by_other_means(lines).stderr == f"case {unguarded.uid}: line 1 is not as it was written\n"

    def test_state_card_and_rows_are_held_against_the_journal(self, unguarded):
        assert "The journal is intact." in said("verify_journal", "--states")
        Vitals.objects.filter(case=unguarded.row, seq=2).update(derived={"map": 99})
        Case.objects.update(folded=unguarded.row.folded.replace('"sbp":91', '"sbp":191'), complaint="none")

        with pytest.raises(CommandError) as told:
            said("verify_journal", "--states")
        faults = str(told.value).splitlines()
        assert [fault.removeprefix(f"case {unguarded.uid}: ").split(" ")[0] for fault in faults] == [
            "state",
            "case:",
            "Vitals",
        ]


@pytest.mark.parametrize("name", [name for name, app in get_commands().items() if app == "consult"])
def test_help_says_what_a_command_does_and_what_each_option_is(name):
    parser = load_command_class("consult", name).create_parser("manage.py", name)
    assert re.match("[A-Z][a-z]+ ", parser.description), "not how it is called: that stands above it"
    ours = {"--port", "--units", "--speed", "--host", "--base", "--states", "--csv", "--by", "--role", "--json"}
    assert all(each.help for each in parser._actions if ours & {*each.option_strings})


class TestRebuildCards:
    def test_a_card_as_it_should_be_is_left_alone(self, consult):
        consult.vitals(sbp=96, dbp=44)
        assert "0 of 1 cards were out of date" in said("rebuild_cards")

    def test_a_card_of_older_code_is_made_anew(self, consult):
        consult.vitals(sbp=96, dbp=44)
        right = consult.card
        Case.objects.update(card=consult.row.card.replace('"sbp"', '"systolic"'))
        assert consult.card != right
        assert "1 of 1 cards were out of date" in said("rebuild_cards")
        assert {**consult.card, "seq": right["seq"]} == right

    def test_a_rebuilt_card_is_dated_by_its_facts_and_not_by_the_hour_of_rebuilding(self, consult):
        consult.vitals(at=NOON, sbp=96, dbp=44)
        Case.objects.update(card="{}")
        said("rebuild_cards")
        assert consult.card["vitals"]["sbp"]["taken_at"] == "2030-01-05T12:00:00Z"
