"""Who may import whom: a module imports what stands on a lower line than itself, never what stands beside or above."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[1]
PACKAGES = ("api", "consult", "dosing")

# One line each; an upper line may import a lower one. Modules of one line do not import each other.
LINES: list[tuple[str, ...]] = [
    # wiring only
    (
        "consult.asgi",
        "consult.wsgi",
        "consult.urls",
        "consult.celery",
        "consult.beat",
        "consult.settings",
        "consult.apps",
    ),
    ("consult.connections", "consult.turns"),
    ("consult.bodies",),
    ("consult.environment",),
    ("consult.management",),
    ("consult.sign_ins", "consult.supervisor", "consult.simulation"),
    ("consult.child", "consult.second_trigger"),
    # entrances
    (
        "api",
        "consult.screens",
        "consult.live",
        "consult.tasks",
        "consult.middleware",
        "consult.static_files",
        "consult.health",
        "consult.checks",
        "consult.sessions",
    ),
    ("consult.actions", "consult.metrics"),
    ("consult.rule_set_files",),
    ("consult.templatetags",),
    ("consult.review",),
    ("consult.render",),
    ("consult.chart",),
    ("consult.rows",),
    ("consult.journal",),
    # the only place that hands out a case, a unit, an agency
    ("consult.access", "consult.directory"),
    ("consult.actor",),
    ("consult.queries", "consult.heartbeat", "consult.migrations"),
    ("consult.resources", "consult.names"),
    ("consult.zone",),
    ("consult.models",),
    ("consult.statements",),
    # pure: what is decided, what follows from it, the card
    ("consult.case",),
    ("consult.events",),
    ("consult.state",),
    (
        "consult.notices",
        "consult.digest",
        "consult.clock",
        "consult.problems",
        "consult.changes",
        "consult.ids",
        "consult.unseen",
        "consult.passwords",
        "consult.crowd",
    ),
    # pure: no Django, no clock, no settings
    ("dosing",),
]
# Narrower than its line: it speaks HTTP like any other program.
ONLY = {"consult.simulation": {"consult.simulation", "dosing"}}
PURE = ("consult.case", "consult.events", "consult.state")  # no Django, no database
MAY_BE_USED_THERE = {"consult", "dosing", "msgspec"} | set(sys.stdlib_module_names)
DOSING_MAY_USE = {"dosing", "pint", "msgspec"} | set(sys.stdlib_module_names)

RANK = {module: rank for rank, line in enumerate(LINES) for module in line}


def owner(module: str) -> str | None:
    """The entry of the table that a module belongs to."""
    parts = module.split(".")
    return next((name for end in range(len(parts), 0, -1) if (name := ".".join(parts[:end])) in RANK), None)


def module_of(path: Path) -> str:
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(source: str, module: str) -> Iterator[str]:
    """Every module that the source imports, also inside functions, relative names made absolute."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(module.split(".")[: -node.level]) if node.level else ""
            start = ".".join(filter(None, (base, node.module)))
            yield from (f"{start}.{alias.name}" for alias in node.names)


def faults(module: str, source: str) -> list[str]:
    """What the module imports against the table; a module without a line is a fault itself."""
    if (own := owner(module)) is None:
        return [f"{module} has no line in the table"]
    found = []
    for name in imported(source, module):
        if own == "dosing" and name.split(".")[0] not in DOSING_MAY_USE:
            found.append(f"{module} imports {name}: dosing is pure")
        if own in PURE and name.split(".")[0] not in MAY_BE_USED_THERE:
            found.append(f"{module} imports {name}: {own} is pure")
        if name.split(".")[0] not in PACKAGES:
            continue
        other = owner(name)
        if other is None:
            found.append(f"{module} imports {name}, which has no line in the table")
        elif other != own and (RANK[other] <= RANK[own] or other not in ONLY.get(own, {other})):
            found.append(f"{module} imports {name}")
    return found


def source_files() -> list[Path]:
    files = [path for package in PACKAGES for path in (PROJECT / package).rglob("*.py")]
    return [path.relative_to(PROJECT) for path in files if path != PROJECT / "consult" / "__init__.py"]


def test_every_module_has_a_line_and_imports_only_lower_ones():
    found = [fault for path in source_files() for fault in faults(module_of(path), (PROJECT / path).read_text())]
    assert found == []


def test_the_tests_of_dosing_stand_alone():
    """Mutation testing copies dosing and its tests, nothing else."""
    files = [path.relative_to(PROJECT) for path in (PROJECT / "tests" / "dosing").rglob("*.py")]
    names = {name.split(".")[0] for path in files for name in imported((PROJECT / path).read_text(), module_of(path))}
    assert names.isdisjoint({"api", "consult", "django"})


def test_the_project_package_itself_is_empty():
    assert (PROJECT / "consult" / "__init__.py").read_text().strip() == ""


@pytest.mark.parametrize(
    ("module", "source", "fault"),
    [
        ("consult.invoices", "", "consult.invoices has no line in the table"),
        ("api.views.cases", "from consult.invoices import pay", "which has no line"),
        ("consult.models.case", "from consult.actions import cases", "consult.models.case imports"),
        ("consult.screens.board", "from api import fields", "consult.screens.board imports"),
        ("consult.screens.board", "def view():\n    import consult.live.hub", "imports consult.live.hub"),
        ("consult.actions.cases", "from .. import health", "imports consult.health"),
        ("consult.chart", "from consult import render", "imports consult.render"),
        ("consult.actions.cases", "from consult import urls", "imports consult.urls"),
        ("consult.simulation.unit", "from consult.actions import cases", "imports consult.actions.cases"),
        ("dosing.limits", "from django.utils import timezone", "dosing is pure"),
        ("dosing.limits", "from consult import clock", "imports consult.clock"),
    ],
    ids=[
        "a file without a line",
        "a name without a line",
        "upwards",
        "sideways",
        "inside a function",
        "relative",
        "chart to render",
        "wiring",
        "simulation past HTTP",
        "dosing to Django",
        "dosing to us",
    ],
)
def test_a_bad_import_is_found(module, source, fault):
    assert any(fault in line for line in faults(module, source))


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("consult.screens.board", "from consult import access, clock\nfrom consult.actions import cases"),
        ("consult.actions.cases", "from consult.actions.entry import entry\nfrom dosing import watch"),
        ("consult.simulation.unit", "import httpx\nfrom dosing.pressure import judge"),
        ("dosing.units", "from fractions import Fraction\n\nimport pint\n\nfrom dosing.facts import Amount"),
    ],
    ids=["entrance", "action", "simulation", "dosing"],
)
def test_a_good_import_is_let_through(module, source):
    assert faults(module, source) == []
