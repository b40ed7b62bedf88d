"""What msgspec reads into is a struct, and each process with threads has let it learn all of them before they begin.

It learns what it first meets, and two threads that meet the same for the first time at once, as the first posts after a
start do, end the whole process. A dataclass is nothing that `learned` finds.
"""

from __future__ import annotations

import ast
import dataclasses
import importlib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from consult.state.case import CaseState
from dosing.load.reader import load_shipped
from tests.conftest import NOON
from tests.depth import thinned
from tests.simulation.pure_case import PureCase
from tests.simulation.transports import SEPTIC

PROJECT = Path(__file__).resolve().parents[2]
FILES = [path for package in ("api", "consult", "dosing") for path in (PROJECT / package).rglob("*.py")]


def read_into(path: Path) -> Iterator[object]:
    """The classes that a module converts or decodes to; what a caller hands it is found at the caller's."""
    text = path.read_text(encoding="utf-8")
    if "msgspec" not in text:
        return
    known = vars(importlib.import_module(_module(path)))
    for call in (node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call)):
        for named in (node for wanted in _wanted(call) for node in ast.walk(wanted) if isinstance(node, ast.Name)):
            yield known.get(named.id)


def _module(path: Path) -> str:
    return ".".join(path.relative_to(PROJECT).with_suffix("").parts)


def _wanted(call: ast.Call) -> list[ast.expr]:
    function = ast.unparse(call.func)
    if function == "msgspec.convert":
        return call.args[1:2]
    return [keyword.value for keyword in call.keywords] if function == "msgspec.json.decode" else []


def test_no_dataclass_is_read_into() -> None:
    found = [each for path in FILES for each in read_into(path)]

    assert CaseState in found
    assert [each for each in found if dataclasses.is_dataclass(each)] == []


FIRST_AT_ONCE = """
import sys, threading
import msgspec
from consult import learned
from consult.state.case import CaseState

if "learn" in sys.argv:
    learned.learn()
text = sys.stdin.buffer.read()
sys.setswitchinterval(1e-6)
ready = threading.Barrier(8)

def read():
    ready.wait()
    msgspec.json.decode(text, type=CaseState)

threads = [threading.Thread(target=read) for _ in range(8)]
for each in threads:
    each.start()
for each in threads:
    each.join()
"""


def test_threads_may_read_into_the_same_structure_at_once() -> None:
    """Without `learn` this ends by signal 11 in nearly every run."""
    state = msgspec.json.encode(PureCase(SEPTIC.patient, load_shipped("demonstration"), NOON).state)
    words = [sys.executable, "-c", FIRST_AT_ONCE, "learn"]
    runs = [subprocess.run(words, cwd=PROJECT, check=False, timeout=60, input=state) for _ in range(5)]
    assert [run.returncode for run in runs] == [0] * 5


ENTRANCES = {
    "the API": "import consult.wsgi",
    "pages and sockets": "import consult.asgi",
    "the worker": (
        "import django; django.setup(); from consult.celery import app;"
        "from celery.signals import worker_init; worker_init.send(app)"
    ),
    "the second trigger": (
        "import django, threading; django.setup(); from consult.service.backup_sweep import SecondTrigger;"
        "stopping = threading.Event(); stopping.set(); SecondTrigger(stopping).run()"
    ),
}
TOLD = """
import sys
from consult import learned
print(*sorted(f"{each.__module__}.{each.__qualname__}" for each in learned.known))
print(*sorted(sys.modules))
"""


@pytest.mark.parametrize("name", list(thinned(ENTRANCES, every=2)))
def test_each_process_that_has_threads_lets_msgspec_learn_all_that_it_reads_into(name: str) -> None:
    settings = {**os.environ, "DJANGO_SETTINGS_MODULE": "consult.settings"}
    said = subprocess.run(
        [sys.executable, "-c", ENTRANCES[name] + TOLD], cwd=PROJECT, env=settings, capture_output=True, text=True
    )
    assert said.returncode == 0, said.stderr
    learned, loaded = (set(line.split()) for line in said.stdout.splitlines()[-2:])
    wanted = {each for path in FILES if _module(path) in loaded for each in read_into(path)}
    structures = {each for each in wanted if isinstance(each, type) and issubclass(each, msgspec.Struct)}

    assert CaseState in structures
    assert {f"{each.__module__}.{each.__qualname__}" for each in structures} <= learned
