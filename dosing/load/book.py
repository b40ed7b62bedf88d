"""A rule set file while it is read: its faults, and on which line each entry stands."""

from __future__ import annotations

import re
from typing import Any

from dosing.load.faults import Fault, RuleSetFaults

MOST_FAULTS = 200
_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*)\s*=")


class Book:
    """The file that is read: its faults, and where each entry stands in it."""

    def __init__(self, name: str, raw: str, base: dict[str, Any] | None = None) -> None:
        self.name, self.faults = name, list[Fault]()
        self._lines = _lines(raw, base or {})

    def fault(self, entry: str, text: str) -> None:
        """Note a fault at an entry, once; its line is that of the nearest entry around it that the file spells out."""
        found = Fault(self.name, entry, self._line(entry), text)
        if found not in self.faults:
            self.faults.append(found)
        if len(self.faults) >= MOST_FAULTS:
            raise RuleSetFaults([*self.faults, Fault(self.name, "", 0, "has more faults: mend these first")])

    def _line(self, entry: str) -> int:
        """The entry's own line, else that of the first entry within it, else of the one around it, else the first."""
        around = entry
        while around:
            within = (line for path, line in self._lines.items() if path.startswith(f"{around}."))
            line = self._lines.get(around) or min(within, default=0)
            if line:
                return line
            around = around.rpartition(".")[0]
        return 1


def _lines(raw: str, base: dict[str, Any]) -> dict[str, int]:
    """The line of each table and key; a list's items are counted on from those of the set that the file stands upon."""
    lines, header, counts = dict[str, int](), "", dict[str, int]()
    for number, line in enumerate(raw.splitlines(), 1):
        if found := _HEADER.match(line):
            header = _placed(found[2].strip().replace('"', ""), counts)
            if found[1] == "[[":
                counts[header] = counts.get(header, _items(base, header) - 1) + 1
                header = f"{header}.{counts[header]}"
            lines.setdefault(header, number)
        elif found := _KEY.match(line):
            lines.setdefault(f"{header}.{found[1]}".lstrip("."), number)
    return lines


def _placed(header: str, counts: dict[str, int]) -> str:
    """A header's path; a table within a list is one of the list's newest item."""
    path = ""
    for key in header.split("."):
        path = f"{path}.{counts[path]}.{key}" if path in counts else f"{path}.{key}".lstrip(".")
    return path


def _items(base: dict[str, Any], path: str) -> int:
    found: Any = base
    for key in path.split("."):
        found = found.get(key, {}) if isinstance(found, dict) else {}
    return len(found) if isinstance(found, list) else 0
