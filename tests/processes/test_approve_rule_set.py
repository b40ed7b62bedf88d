"""`approve_rule_set`: a director's approval from the command line, and every reason why there is none."""

from __future__ import annotations

import re
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from consult import queries
from consult.actions import accounts
from consult.models import Agency, User
from dosing.load import reader
from tests.conftest import Cast

PROJECT = Path(__file__).resolve().parents[2]
CONSERVATIVE = reader.SHIPPED / "conservative.toml"


def said(*arguments: Any) -> str:
    out = StringIO()
    call_command("approve_rule_set", *map(str, arguments), stdout=out)
    return out.getvalue()


def refused(*arguments: Any) -> str:
    with pytest.raises(CommandError) as error:
        said(*arguments)
    return str(error.value)


@pytest.fixture
def director(cast: Cast) -> User:
    """Dr. Sorrel directs one agency, and has an account by which a command can name her."""
    user = accounts.make_person("sorrel", "Dr. Linnea", "Sorrel", "a long pass phrase")
    accounts.make_member(Agency.objects.get(pk=cast.sorrel.agency), "director", user=user)
    return user


def test_a_file_is_adopted_in_the_directors_name(director: User, cast: Cast) -> None:
    digest = reader.load_shipped("conservative").digest

    text = said(CONSERVATIVE, "--by", "sorrel", "--reason", "the board of 3 May agreed")

    assert "conservative 1 is in force, approved by Dr. Linnea Sorrel." in text
    assert digest in text
    assert re.search(r"^\d+ numbers are unverified: adopted as they are\.$", text, re.MULTILINE)
    (line,) = queries.agency_journal(cast.sorrel.agency)
    assert line["by"] == {"name": "Dr. Linnea Sorrel", "role": "director"}
    assert (line["data"]["rule_set"]["digest"], line["data"]["by_way_of"]) == (digest, "command")
    assert line["data"]["reason"] == "the board of 3 May agreed"


def test_a_file_that_no_rule_set_is_like_is_refused_by_the_command_too(director: User, tmp_path: Path) -> None:
    file = tmp_path / "draft.toml"
    file.write_text(CONSERVATIVE.read_text(encoding="utf-8") + "\nx = " + "9" * 5000)

    assert "draft.toml, line 0, : a number has more than 20 digits" in refused(file, "--by", "sorrel")


def test_the_command_of_the_readme_adopts_what_it_names(director: User, cast: Cast) -> None:
    readme = (PROJECT / "README.md").read_text(encoding="utf-8")
    (command,) = re.findall(r"manage\.py approve_rule_set (.+)", readme)
    file, *rest = command.split()

    said(PROJECT / file, *rest)

    assert len(queries.agency_journal(cast.sorrel.agency)) == 1


def test_a_second_time_says_that_it_is_in_force(director: User) -> None:
    said(CONSERVATIVE, "--by", "sorrel")

    assert refused(CONSERVATIVE, "--by", "sorrel") == "conservative 1 is already in force, with exactly this content."


def test_a_changed_demonstration_under_its_old_name_is_refused(director: User, cast: Cast, tmp_path: Path) -> None:
    text = (reader.SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
    draft = tmp_path / "draft.toml"
    draft.write_text(text.replace('title = "', 'title = "Own ', 1), encoding="utf-8")

    words = refused(draft, "--by", "sorrel")

    assert words.startswith("demonstration is the name of the rules that ship with the board")
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_all_faults_are_named_by_file_entry_and_line(director: User, cast: Cast, tmp_path: Path) -> None:
    draft = tmp_path / "draft.toml"
    text = (reader.SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
    text = text.replace("grace_s = 60\n", "grace_s = true\n", 1).replace('form = "bolus"', 'form = "gulp"', 1)
    draft.write_text(text, encoding="utf-8")
    grace, form = (text.splitlines().index(line) + 1 for line in ("grace_s = true", 'form = "gulp"'))

    words = refused(draft, "--by", "sorrel")

    assert words.startswith("Not adopted: 2 faults.\n")
    assert f"draft.toml, line {grace}, treatments." in words
    assert f"draft.toml, line {form}, treatments.crystalloid-bolus.form: is 'gulp'" in words
    assert queries.agency_journal(cast.sorrel.agency) == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--by", "nobody"], "There is no active account 'nobody'."),
        (["--by", "merrin"], "'merrin' is medical director of no agency: only a director approves a rule set."),
        (["--by", "sorrel", "--agency", "Harrow Fen"], "'sorrel' is not medical director of 'Harrow Fen'"),
    ],
)
def test_only_a_director_of_the_agency(arguments: list[str], words: str, director: User, cast: Cast) -> None:
    physician = accounts.make_person("merrin", "Dr. Ida", "Merrin", "a long pass phrase")
    accounts.make_member(Agency.objects.get(pk=cast.merrin.agency), "physician", user=physician)

    assert refused(CONSERVATIVE, *arguments).startswith(words)
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_a_director_of_several_agencies_names_one(director: User, cast: Cast) -> None:
    other = Agency.objects.get(pk=cast.vane.agency)
    accounts.make_member(other, "director", user=director)

    assert "name one by --agency" in refused(CONSERVATIVE, "--by", "sorrel")
    said(CONSERVATIVE, "--by", "sorrel", "--agency", other.name)
    assert len(queries.agency_journal(other.pk)) == 1
    assert queries.agency_journal(cast.sorrel.agency) == []


def test_an_account_that_was_closed_approves_nothing(director: User) -> None:
    User.objects.filter(pk=director.pk).update(is_active=False)

    assert refused(CONSERVATIVE, "--by", "sorrel") == "There is no active account 'sorrel'."


@pytest.mark.parametrize("name", ["absent.toml", "."])
def test_a_file_that_cannot_be_read_is_said(name: str, director: User, tmp_path: Path) -> None:
    assert "cannot be read" in refused(tmp_path / name, "--by", "sorrel")


def test_a_file_that_is_no_text_is_said(director: User, tmp_path: Path) -> None:
    (tmp_path / "rules.toml").write_bytes(b"\xff\xfe\x00")

    assert "is not UTF-8 text" in refused(tmp_path / "rules.toml", "--by", "sorrel")
