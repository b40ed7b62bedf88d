"""Texts: all of the code's own stand in one catalogue, which may say them otherwise; no page says anything besides."""

from __future__ import annotations

import gettext
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from consult.management import catalogue, texts
from tests.screens import pseudo

PROJECT = Path(__file__).resolve().parents[2]
CATALOGUE = PROJECT / "consult/locale/en/LC_MESSAGES/django.po"
WALK = "tests/screens/walk_in_pseudo.py"

ONE, COUNTED, GONE = ("due {time}",), ("{count} dose", "{count} doses"), ("Take it",)
PLACES = {ONE: ["a.py"], COUNTED: ["b.js"]}


def test_the_catalogue_is_up_to_date():
    source = CATALOGUE.read_text(encoding="utf-8")
    fresh = catalogue.written(texts.found(PROJECT), catalogue.read(source))
    assert source == fresh, "run manage.py texts"


def test_each_text_is_found_where_it_is_said():
    assert list(texts.of_python('_("a {b}", b=1); ngettext("one", "many", n); other("no text")')) == [
        ("a {b}",),
        ("one", "many"),
    ]
    assert list(texts.of_template('{% translate "a" %}{% include "x.html" with y=_("b") %}')) == [("a",), ("b",)]
    counted = "{% blocktranslate trimmed count n=x %}{{ n }} case{% plural %}{{ n }} cases{% endblocktranslate %}"
    assert list(texts.of_template(counted)) == [("%(n)s case", "%(n)s cases")]
    assert list(texts.of_script('_("a {b}", { b }); plain_("no"); other("no text");')) == [("a {b}",)]


def test_what_is_marked_must_be_a_plain_text():
    with pytest.raises(ValueError, match="no plain text"):
        list(texts.of_python("_(f'due {time}')"))


def test_what_is_said_otherwise_reaches_python_and_scripts(tmp_path: Path):
    said = catalogue.Catalogue({ONE: ("to come {time}",), COUNTED: ("one", "{count} times"), GONE: ("Keep it",)})
    (tmp_path / "django.po").write_text(catalogue.written(PLACES, said), encoding="utf-8")

    assert catalogue.store(tmp_path, PLACES) == []

    with (tmp_path / "django.mo").open("rb") as compiled:
        known = gettext.GNUTranslations(compiled)
    assert known.gettext("due {time}") == "to come {time}"
    assert [known.ngettext(*COUNTED, number) for number in (1, 2)] == ["one", "{count} times"]
    assert json.loads((tmp_path / "scripts.json").read_text()) == {"{count} dose": ["one", "{count} times"]}
    kept = (tmp_path / "django.po").read_text()
    assert '#~ msgid "Take it"\n#~ msgstr "Keep it"' in kept
    assert catalogue.read(kept).said == said.said


def test_a_text_that_loses_a_value_is_refused(tmp_path: Path):
    """An alert without its time, a limit without its amount."""
    said = catalogue.Catalogue({ONE: ("soon",)})
    (tmp_path / "django.po").write_text(catalogue.written(PLACES, said), encoding="utf-8")

    assert catalogue.store(tmp_path, PLACES) == ["'soon' has not the places of 'due {time}'"]
    assert not (tmp_path / "django.mo").exists()


def test_a_catalogue_that_says_nothing_otherwise_is_a_file_to_read_and_nothing_else(tmp_path: Path):
    assert catalogue.store(tmp_path, PLACES) == []
    assert [file.name for file in tmp_path.iterdir()] == ["django.po"]


@pytest.mark.timeout(900)
def test_every_page_says_what_the_catalogue_says(tmp_path: Path):
    """In a pseudo-language nothing that the code says itself, to whichever role, stands there as it was."""
    pseudo.write(tmp_path / "texts", texts.found(PROJECT))
    unmarked = tmp_path / "unmarked.json"
    environment = {**os.environ, "TEXTS_FOLDER": str(tmp_path / "texts"), "UNMARKED": str(unmarked)}
    environment.pop("PYTEST_XDIST_WORKER", None)
    command = [sys.executable, "-m", "pytest", "-q", "-n0", "-p", "no:cacheprovider", WALK]
    done = subprocess.run(command, cwd=PROJECT, env=environment, capture_output=True, text=True)

    assert done.returncode == 0, done.stdout
    assert json.loads(unmarked.read_text(encoding="utf-8")) == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("due %(time)s", "⟦dúé ⟧%(time)s"),
        ("<b>{count} doses</b>", "<b>{count}⟦ döséś⟧</b>".replace("ś", "s")),
        ("100%% of it", "100%%⟦ öf ít⟧"),
        ("{limit:g} G", "{limit:g}⟦ G⟧"),
    ],
)
def test_the_pseudo_language_leaves_values_and_marks_alone(text: str, said: str):
    assert pseudo.pseudo(text) == said
    assert not re.search("[a-z]", pseudo.LEFT.sub("", pseudo.bare(said)))


# ---- scripts: what is said there is asked of `core/words.js`

COMMENT = re.compile(r"/\*.*?\*/|(?<![:\"'`])//[^\n]*", re.DOTALL)
MARKED = re.compile(r"""\b_\(\s*("(?:[^"\\]|\\.)*")""")
LITERAL = re.compile(r'"((?:[^"\\\n]|\\.)*)"|`([^`]*)`')
SENTENCE = re.compile(r"[A-Za-z]{2,}[,:;.?!’]* [a-z]{2,}|^[A-Z][a-z]+ ")
NO_TEXT = re.compile(r"[\[\]<>=#&/]|\.[a-z]|^[a-z-]+(,? [a-z-]+)*$|px")  # selectors, classes, addresses
NOT_ON_A_PAGE = {"crew/worker.js", "pages/api-docs.js"}


def unasked(script: str) -> list[str]:
    bare = MARKED.sub("_(", COMMENT.sub("", script))
    found = (re.sub(r"\$\{[^}]*\}", " ", first or second) for first, second in LITERAL.findall(bare))
    return [text for text in found if SENTENCE.search(text) and not NO_TEXT.search(text)]


def test_no_script_says_a_sentence_of_its_own():
    static = PROJECT / "consult/static"
    scripts = {file.relative_to(static).as_posix(): file.read_text("utf-8") for file in static.rglob("*.js")}
    assert {name: found for name, text in scripts.items() if (found := unasked(text))}.keys() <= NOT_ON_A_PAGE


def test_a_sentence_of_its_own_is_found():
    assert unasked('say("Not sent: no link"); say(_("All sent")); one(".row .more"); // Not a text') == [
        "Not sent: no link"
    ]
