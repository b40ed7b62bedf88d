"""Who may import whom: the contracts of pyproject.toml are kept, and they find what they are for."""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import grimp
import pytest

PROJECT = Path(__file__).resolve().parents[1]
PACKAGES = ("api", "consult", "dosing")
SETTINGS = (PROJECT / "pyproject.toml").read_text(encoding="utf-8")
CONTRACTS = {each["id"]: each for each in tomllib.loads(SETTINGS)["tool"]["importlinter"]["contracts"]}
LISTED = [name for line in CONTRACTS["layers"]["layers"] for name in line.split(" | ")]
FOLDERS = [
    f"{package}.{name}"
    for package in ("dosing", "consult.service")
    for line in CONTRACTS[package.rpartition(".")[2]]["layers"]
    for name in line.split(" | ")
]
# Besides our own lower lines and the standard library.
PURE = ("consult.case", "consult.events", "consult.state")
MAY_USE = {"dosing": {"pint", "msgspec"}, **{package: {"msgspec"} for package in PURE}}


def lint(folder: Path) -> tuple[int, str]:
    """Holds the packages in a folder against its contracts: the exit status, and what was said."""
    command = [Path(sys.executable).with_name("lint-imports"), "--no-cache", "--no-logo"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, env={"COLUMNS": "200"})
    return done.returncode, done.stdout + done.stderr


def within(module: str, package: str) -> bool:
    return f"{module}.".startswith(f"{package}.")


def without_a_line(modules: Iterable[str]) -> list[str]:
    """The modules that no line of the layers holds, themselves or by their package."""
    return [name for name in modules if name != "consult" and not any(within(name, line) for line in LISTED)]


def strangers(package: str, imports: Iterable[str]) -> set[str]:
    """The libraries among what a package imports that it may not."""
    return {name.split(".")[0] for name in imports} - MAY_USE[package] - set(sys.stdlib_module_names) - set(PACKAGES)


def imported(path: Path) -> Iterator[str]:
    """Every module that a file imports, also inside functions."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def project(folder: Path, sources: Mapping[str, str]) -> Path:
    """A project of empty modules, one for each line, with these modules besides."""
    (folder / "pyproject.toml").write_text(SETTINGS, encoding="utf-8")
    for module in (*LISTED, *FOLDERS):
        path = folder.joinpath(*module.split("."))
        path.mkdir(parents=True, exist_ok=True)
        (path / "__init__.py").touch()
    (folder / "consult" / "__init__.py").touch()
    for module, source in sources.items():
        folder.joinpath(*module.split(".")).with_suffix(".py").write_text(source, encoding="utf-8")
    return folder


BAD = {
    "upwards": ("consult.models.case", "from consult import actions", "consult.actions"),
    "sideways": ("consult.screens.board", "from api import fields", "api"),
    "inside a function": ("consult.screens.page", "def view():\n    import consult.live", "consult.live"),
    "for type checking": (
        "consult.rows.store",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from consult import render",
        "consult.render",
    ),
    "relative": ("consult.actions.cases", "from .. import service", "consult.service"),
    "chart to render": ("consult.chart.svg", "from consult import render", "consult.render"),
    "wiring": ("consult.actions.units", "from consult import urls", "consult.urls"),
    "simulation past HTTP": ("consult.simulation.unit", "from consult import clock", "consult.clock"),
    "rules to Django": ("dosing.check.limits", "from django.utils import timezone", "django"),
    "rules to us": ("dosing.check.bands", "from consult import clock", "consult.clock"),
    "core to Django": ("consult.case.card", "from django.db import models", "django"),
    "rules upwards": ("dosing.ground.units", "from dosing.load import reader", "dosing.load"),
}
CIRCLE = {
    "dosing.mix.stock": "from dosing.mix import labels",
    "dosing.mix.labels": "def late():\n    from dosing.mix import stock",
}
GOOD = {
    "consult.screens.board": "from consult import access, clock\nfrom consult.actions import cases",
    "consult.actions.cases": "from consult.actions.entry import entry\nfrom dosing import watch",
    "consult.actions.entry": "import django",
    "consult.simulation.unit": "import httpx\nfrom dosing.patient import pressure",
    "dosing.ground.units": "from fractions import Fraction\n\nimport pint\n\nfrom dosing.ground import facts",
}


@pytest.fixture(scope="module")
def told_of_bad(tmp_path_factory):
    sources = {module: source for module, source, _ in BAD.values()} | CIRCLE
    return lint(project(tmp_path_factory.mktemp("bad"), sources))


def test_the_contracts_are_kept():
    status, told = lint(PROJECT)

    assert status == 0, told
    assert f"{len(CONTRACTS)} kept, 0 broken" in told


@pytest.mark.parametrize("name", BAD)
def test_a_bad_import_is_found(name, told_of_bad):
    importer, _, target = BAD[name]

    assert told_of_bad[0] == 1
    assert f"{importer} -> {target} (" in told_of_bad[1]


def test_a_circle_is_found(told_of_bad):
    _, circles = told_of_bad[1].rsplit(CONTRACTS["circles"]["name"], 1)

    assert "dosing.mix" in circles
    assert all(f".{name}" in circles for name in ("stock", "labels"))


def test_a_folder_of_the_rules_without_a_line_is_found(tmp_path):
    folder = project(tmp_path, {"dosing.invoices": ""})

    assert lint(folder)[0] == 1
    (folder / "dosing" / "invoices.py").unlink()
    assert lint(folder)[0] == 0


def test_good_imports_are_let_through(tmp_path):
    status, told = lint(project(tmp_path, GOOD))

    assert status == 0, told


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph(*PACKAGES, include_external_packages=True, cache_dir=None)


def test_every_module_has_a_line(graph):
    assert without_a_line(name for name in graph.modules if name.split(".")[0] in PACKAGES) == []
    assert without_a_line(["consult.invoices", "consult.actions.cases", "api"]) == ["consult.invoices"]


@pytest.mark.parametrize("package", MAY_USE)
def test_what_is_pure_uses_few_libraries(package, graph):
    modules = [name for name in graph.modules if within(name, package)]
    assert (
        strangers(package, (name for one in modules for name in graph.find_modules_directly_imported_by(one))) == set()
    )
    assert strangers(package, ["json", "msgspec", "dosing.ground.text", "redis"]) == {"redis"}


def test_the_tests_of_dosing_stand_alone():
    """Mutation testing copies dosing and its tests, nothing else."""
    names = {name.split(".")[0] for path in (PROJECT / "tests" / "dosing").rglob("*.py") for name in imported(path)}

    assert names.isdisjoint({"api", "consult", "django"})


def test_the_project_package_itself_is_empty():
    assert (PROJECT / "consult" / "__init__.py").read_text().strip() == ""
