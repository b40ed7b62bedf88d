"""The README's commands are real: files exist, and each command is run by the gate or by a test named here."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[1]
README = (PROJECT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
STEPS = [step.strip() for block in BLOCKS for step in re.split(r"&&|\n(?=\S)", block) if step.strip()]
GATE = (PROJECT / ".ci" / "run").read_text(encoding="utf-8")

FIRST_CASE = "tests/processes/test_the_first_case.py"

# Where each step is carried out; a step without a line here has no proof and fails.
CARRIED_OUT = {
    "python3 -m venv .venv": ".ci/run",
    ".venv/bin/pip install -q -r requirements.lock": "tests/test_readme.py",
    ".venv/bin/pip install -q -r requirements-test.lock": ".ci/run",
    ".venv/bin/python manage.py demo": "tests/processes/test_demo.py",
    ".venv/bin/pytest": ".ci/run",
    ".venv/bin/python manage.py approve_rule_set": FIRST_CASE,
    'export DATABASE_URL="sqlite:///$HOME/consult-board/board.sqlite3"': "tests/processes/test_environment.py",
    ".venv/bin/python manage.py migrate": "tests/processes/test_environment.py",
    ".venv/bin/python manage.py create_agency": FIRST_CASE,
    ".venv/bin/python manage.py add_unit": FIRST_CASE,
    ".venv/bin/python manage.py add_member": FIRST_CASE,
    ".venv/bin/python manage.py issue_token": FIRST_CASE,
    ".venv/bin/python manage.py serve": "tests/processes/test_serve.py",
    "curl": FIRST_CASE,
}


def test_there_are_five_blocks_of_commands() -> None:
    assert len(BLOCKS) == 5


@pytest.mark.parametrize("step", STEPS)
def test_each_step_is_carried_out_somewhere(step: str) -> None:
    where = next(place for start, place in CARRIED_OUT.items() if step == start or step.startswith(f"{start} "))
    assert (PROJECT / where).exists()
    if where == ".ci/run":
        assert all(word in GATE for word in step.replace("-q ", "").split())


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-test.lock"])
def test_the_locks_hold_what_the_project_asks_for(name: str) -> None:
    """The first command installs from the shorter lock alone: each dependency with its hash, and no address."""
    import tomllib

    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lock = (PROJECT / name).read_text(encoding="utf-8").lower()
    for wanted in project["dependencies"]:
        plain = re.split(r"[\[<>=;! ]", wanted.lower())[0]
        assert re.search(rf"^{re.escape(plain)}==[^\n]*\\\n\s+--hash=sha256:", lock, re.MULTILINE), wanted
    assert "://" not in lock


@pytest.mark.parametrize("path", re.findall(r"\]\(([^)#:]+)\)", README))
def test_what_it_links_to_is_there(path: str) -> None:
    assert (PROJECT / path).exists()


@pytest.mark.parametrize("page", re.findall(r"`(/[a-z/]+/)`", README))
def test_the_pages_that_it_names_have_an_address(page: str) -> None:
    from django.urls import resolve

    assert resolve(page)


def test_it_carries_the_caution() -> None:
    assert "Local protocol and the licensed clinician decide" in README
