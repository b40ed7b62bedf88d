"""House rules over the whole tree, each with a line that keeps it and a line that breaks it."""

import ast
import re
import statistics
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[1]
CODE = ("api/", "consult/", "dosing/")

# ---- what may be where
MAY_WRITE = ("consult/actions/", "consult/journal/", "consult/migrations/", "consult/rows/")
WRITES = {"save", "create", "bulk_create", "bulk_update", "get_or_create", "update_or_create", "delete"}
READS_THE_CLOCK = ("consult/clock.py", "consult/simulation/")
CLOCKS = {
    ("timezone", "now"),
    ("datetime", "now"),
    ("datetime", "utcnow"),
    ("datetime", "today"),
    ("date", "today"),
    ("time", "time"),
}
SQL_CLOCKS = ("CURRENT_TIMESTAMP", "clock_timestamp", "auto_now", "functions import Now")
# The time comes in by an entrance; from there on it is handed down.
BELOW_ENTRANCES = (
    "consult/actions/",
    "consult/card/",
    "consult/journal/",
    "consult/models/",
    "consult/access.py",
    "consult/queries.py",
    "consult/resources.py",
    "dosing/",
)
INLINE = re.compile(
    r"""\sstyle\s*=|<style[\s>]|<script(?![^>]*\ssrc=)[^>]*>|\son[a-z]+\s*=\s*["']|=\s*["']?\s*javascript:|\shx-on""",
    re.IGNORECASE,
)
# Taken apart, so that this file keeps the rule that it tests.
UNWANTED = re.compile(
    "|".join(
        [
            r"\bseed docu" + r"ment\b",
            r"\btrans" + r"cript\b",
            r"\bscreen rec" + r"ording\b",
            "/wo" + "rk/",
            "/ro" + "ot/",
        ]
        + [re.escape(host) for host in ("py" + "pi.org", "python" + "hosted.org", "registry.npm" + "js.org")]
    ),
    re.IGNORECASE,
)


def tracked() -> list[str]:
    """Every file that git knows or would take in."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=PROJECT, capture_output=True, text=True, check=True).stdout.splitlines()
    return [name for name in listed if (PROJECT / name).is_file()]


def python_files() -> list[str]:
    return [name for name in tracked() if name.endswith(".py") and "/migrations/" not in name]


def text_of(name: str) -> str:
    return (PROJECT / name).read_text(errors="ignore")


# ---- the rules: each takes a file's name and text and yields what breaks it


def too_long(name: str, text: str) -> Iterator[str]:
    limit = 400 if name.startswith("tests/") else 300
    if (lines := text.count("\n")) > limit:
        yield f"{name}: {lines} lines, limit {limit}"


def long_functions(name: str, text: str) -> Iterator[str]:
    if name.startswith("tests/"):
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.end_lineno - node.lineno + 1 > 40:
            yield f"{name}:{node.lineno}: {node.name} is longer than 40 lines"


def stray_writes(name: str, text: str) -> Iterator[str]:
    if not name.startswith(CODE) or name.startswith(MAY_WRITE):
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            # A dictionary's update takes a mapping, a query's update takes keywords alone.
            is_query_update = node.func.attr == "update" and node.keywords and not node.args
            if node.func.attr in WRITES or is_query_update:
                yield f"{name}:{node.lineno}: .{node.func.attr}() outside the actions"


def clock_reads(name: str, text: str) -> Iterator[str]:
    if not name.startswith(CODE) or name.startswith(READS_THE_CLOCK):
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Attribute) and (ast.unparse(node.value).rpartition(".")[2], node.attr) in CLOCKS:
            yield f"{name}:{node.lineno}: reads the clock by {ast.unparse(node)}"
        elif isinstance(node, ast.Attribute) and ast.unparse(node) == "clock.now" and name.startswith(BELOW_ENTRANCES):
            yield f"{name}:{node.lineno}: reads the clock below the entrances"
    yield from (f"{name}: {word}" for word in SQL_CLOCKS if word in text)


def inline_code(name: str, text: str) -> Iterator[str]:
    if not name.startswith("templates/"):
        return
    bare = re.sub(r"\{#.*?#\}|\{% comment %\}.*?\{% endcomment %\}", "", text, flags=re.DOTALL)
    yield from (f"{name}: {match.group().strip()}" for match in INLINE.finditer(bare))


def unwanted_words(name: str, text: str) -> Iterator[str]:
    yield from (f"{name}: {match.group()}" for match in UNWANTED.finditer(text))


PYTHON_RULES = (too_long, long_functions, stray_writes, clock_reads)
Rule = Callable[[str, str], Iterator[str]]


@pytest.mark.parametrize("rule", PYTHON_RULES, ids=lambda rule: rule.__name__)
def test_no_python_file_breaks(rule: Rule):
    assert [fault for name in python_files() for fault in rule(name, text_of(name))] == []


def test_no_template_holds_code_or_style_that_the_browser_would_refuse():
    assert [fault for name in tracked() for fault in inline_code(name, text_of(name))] == []


def test_no_file_holds_an_unwanted_word():
    small = [name for name in tracked() if (PROJECT / name).stat().st_size < 1_000_000]
    assert [fault for name in small for fault in unwanted_words(name, text_of(name))] == []


def test_the_middle_file_is_short():
    sizes = [text_of(name).count("\n") for name in python_files() if name.startswith(CODE) and text_of(name).strip()]
    assert statistics.median(sizes) < 100


ORM = "consult/screens/board.py"
TEMPLATE = "templates/board/board.html"


@pytest.mark.parametrize(
    ("rule", "name", "bad"),
    [
        (too_long, "consult/view.py", "x = 1\n" * 301),
        (too_long, "tests/test_view.py", "x = 1\n" * 401),
        (long_functions, "consult/view.py", "def f():\n" + "    x = 1\n" * 41),
        (stray_writes, ORM, "case.save()"),
        (stray_writes, ORM, "Case.objects.create(state='open')"),
        (stray_writes, ORM, "Case.objects.filter(id=1).update(state='open')"),
        (stray_writes, ORM, "case.delete()"),
        (clock_reads, ORM, "timezone.now()"),
        (clock_reads, ORM, "datetime.datetime.now(UTC)"),
        (clock_reads, ORM, "time.time()"),
        (clock_reads, ORM, "DateTimeField(default=timezone.now)"),
        (clock_reads, "consult/actions/cases.py", "clock.now()"),
        (clock_reads, "consult/models/case.py", "DateTimeField(auto_now_add=True)"),
        (inline_code, TEMPLATE, '<p style="color: red">'),
        (inline_code, TEMPLATE, "<script>go()</script>"),
        (inline_code, TEMPLATE, '<script type="module">go()</script>'),
        (inline_code, TEMPLATE, '<button onclick="go()">'),
        (inline_code, TEMPLATE, '<a href="javascript:go()">'),
        (unwanted_words, "README.md", "as the trans" + "cript says"),
        (unwanted_words, "README.md", "cd /wo" + "rk/board"),
    ],
)
def test_a_line_that_breaks_a_rule_is_found(rule: Rule, name: str, bad: str):
    assert list(rule(name, bad))


@pytest.mark.parametrize(
    ("rule", "name", "good"),
    [
        (too_long, "consult/view.py", "x = 1\n" * 300),
        (long_functions, "consult/view.py", "def f():\n" + "    x = 1\n" * 39),
        (stray_writes, "consult/actions/cases.py", "case.save()"),
        (stray_writes, ORM, "facts.update({'a': 1}); digest.update(b'')"),
        (clock_reads, "consult/clock.py", "datetime.now(UTC)"),
        (clock_reads, ORM, "clock.now(); time.monotonic()"),
        (inline_code, TEMPLATE, '<script type="module" src="board.js"></script><p class="style" data-on="x">'),
        (unwanted_words, "README.md", "the workers of a root group"),
    ],
)
def test_a_line_that_keeps_a_rule_is_let_through(rule: Rule, name: str, good: str):
    assert list(rule(name, good)) == []
