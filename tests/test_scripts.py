"""The pages' scripts by their import lines: who may import whom, no circle, and nothing that nobody needs."""

import re
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[1]
STATIC = PROJECT / "consult/static"
IMPORT = re.compile(r'^import (?:\{([^}]*)\} from )?"([^"]+)";', re.MULTILINE)
EXPORT = re.compile(r"^export (?:async )?(?:const|function|class) (\w+)", re.MULTILINE)
PAGE = re.compile(r"{% static '([^']+\.js)' %}")
WORKERS = {"crew/worker.js"}  # registered by an address of its own
MAY_IMPORT = {"core": {"core"}, "desk": {"core", "desk"}, "crew": {"core", "crew"}, "pages": {"core", "pages"}}

TEXTS = {str(path.relative_to(STATIC)): path.read_text() for path in STATIC.rglob("*.js")}
TEMPLATES = "".join(path.read_text() for path in (PROJECT / "templates").rglob("*.html"))
ASKED = re.compile(r'const \{([^}]*)\} = await import|import\("[^"]+"\)\)\.(\w+)|"(\w+)"')  # by the tests of a module
TESTS = "".join(path.read_text() for path in (PROJECT / "tests/browser").glob("*.py"))


def imports(name: str, text: str) -> dict[str, set[str]]:
    """The modules that a script imports, each with the names it takes from there."""
    return {
        str((STATIC / name).parent.joinpath(path).resolve().relative_to(STATIC)): set(re.findall(r"\w+", names))
        for names, path in IMPORT.findall(text)
    }


def faults(texts: dict[str, str], pages: set[str], tests: str = "") -> list[str]:
    """What breaks a rule, each in one line."""
    wants = {name: imports(name, text) for name, text in texts.items()}
    exports = {name: set(EXPORT.findall(text)) for name, text in texts.items()}
    taken = [(name, of, each) for name, all_of in wants.items() for of, names in all_of.items() for each in names]
    found = [
        f"{name}: imports {of}"
        for name, all_of in wants.items()
        for of in all_of
        if of.split("/")[0] not in MAY_IMPORT[name.split("/")[0]]
    ]
    found += [f"{name}: {of} has no {each}" for name, of, each in taken if each not in exports.get(of, ())]
    found += [
        f"{name}: {each} is unused"
        for name, _, each in taken
        if not re.search(rf"\b{each}\b", IMPORT.sub("", texts[name]))
    ]
    used = {(of, each) for _, of, each in taken}
    asked = set(re.findall(r"\w+", " ".join(" ".join(each) for each in ASKED.findall(tests))))
    found += [
        f"{name}: nobody imports {each}"
        for name, names in exports.items()
        for each in names
        if (name, each) not in used and each not in asked
    ]
    reached = pages | {of for all_of in wants.values() for of in all_of}
    found += [f"{name}: no page loads it" for name in texts.keys() - reached]
    try:
        TopologicalSorter(wants).prepare()
    except CycleError as error:
        found.append(f"circle: {error.args[1]}")
    return found


def test_the_scripts_keep_the_rules():
    assert faults(TEXTS, set(PAGE.findall(TEMPLATES)) | WORKERS, TESTS) == []


A, B = 'import { b } from "./b.js";\nexport const a = b;', "export const b = 1;"
TWO = {"core/a.js": A, "core/b.js": B, "crew/page.js": 'import { a } from "../core/a.js";\na();'}


def test_two_scripts_that_keep_the_rules_are_let_through():
    assert faults(TWO, {"crew/page.js"}) == []


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ({"core/b.js": 'import { a } from "./a.js";\nexport const b = a;'}, "circle: "),
        ({"core/b.js": 'import { page } from "../crew/page.js";\nexport const b = page;'}, "core/b.js: imports crew/"),
        ({"core/b.js": B + "\nexport class Unused {}"}, "core/b.js: nobody imports Unused"),
        ({"core/b.js": B.replace("b =", "c =")}, "core/a.js: core/b.js has no b"),
        ({"core/a.js": A.replace("= b", "= 1")}, "core/a.js: b is unused"),
        ({"crew/old.js": ""}, "crew/old.js: no page loads it"),
    ],
)
def test_a_script_that_breaks_a_rule_is_found(more: dict[str, str], fault: str):
    assert [each for each in faults(TWO | more, {"crew/page.js"}) if each.startswith(fault)]
