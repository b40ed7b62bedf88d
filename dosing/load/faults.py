"""What is wrong with a rule set file, and where."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong: in which file, at which entry and line (0: not found), and what."""

    file: str
    entry: str
    line: int
    text: str

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}, {self.entry}: {self.text}"


class RuleSetFaults(ValueError):
    """A rule set that may not be used, with all its ``faults``."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(map(str, faults)))
        self.faults = faults
