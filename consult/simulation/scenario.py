"""What happens to one simulated patient: who it is, the body, and the steps of the crew in minutes from now.

Steps before minute 0 are history: they are played at once and delivered as a batch. Read from ``scenarios/*.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from consult.simulation.physiology import Body, Nature

FOLDER = Path(__file__).with_name("scenarios")
ACTS = {
    "measure",
    "procedure",
    "give",
    "stop",
    "request",
    "note",
    "ask",
    "cuff",
    "lose_contact",
    "body",
    "arrest",
    "pulse_back",
    "handover",
}


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that a crew does, or that happens to the body, at a minute; ``detail`` is what it needs.

    An arrest has a ``course``: its own steps, each so many minutes ``after`` it began.
    """

    minute: float
    act: str
    detail: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.act not in ACTS:
            raise ValueError(f"{self.act!r} is nothing that a crew does here")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One transport: the case as it is opened, the body and the steps, oldest first."""

    title: str
    call_sign: str
    case: Mapping[str, Any]
    nature: Mapping[str, float]
    body: Mapping[str, Any]
    start: Mapping[str, float]
    steps: tuple[Step, ...]
    onset_min: float | None = None
    eta_min: float = 25
    reaction_s: float = 12
    wrong_readback: bool = False
    answer: str = ""

    def make_body(self) -> Body:
        """The body as it is when the first step begins."""
        nature = Nature(**self.nature)
        values = dict(self.body)
        blood = nature.blood_ml * float(values.pop("blood_part", 1.0))
        body = Body(nature=nature, blood_ml=blood, **values)
        body.settle(map_mmhg=self.start["map"], hr=self.start["hr"])
        return body

    def from_now(self) -> Scenario:
        """The same transport without a history: its first step is now."""
        first = self.steps[0].minute
        steps = tuple(replace(step, minute=step.minute - first) for step in self.steps)
        onset = None if self.onset_min is None else self.onset_min - first
        return replace(self, steps=steps, eta_min=self.eta_min - first, onset_min=onset)


def parse(text: str) -> Scenario:
    """A scenario from TOML; raises TypeError or ValueError for what it does not know."""
    table = tomllib.loads(text)
    rows = table.pop("steps")
    steps = [Step(row.pop("minute"), row.pop("act"), row) for row in rows]
    return Scenario(steps=tuple(sorted(steps, key=lambda step: step.minute)), **table)


@cache
def shipped() -> tuple[Scenario, ...]:
    """The transports that come with the project, in the order in which units get them."""
    found = [parse(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.toml"))]
    return tuple(found)


def varied(chance: Random) -> Scenario:
    """A further adult made from a shipped one: other age and weight, a little sicker or better, nothing goes wrong."""
    base = chance.choice([scenario for scenario in shipped() if scenario.case["patient"]["age"]["value"] >= 18])
    weight = round(base.nature["weight_kg"] * chance.uniform(0.85, 1.2))
    patient = {
        **base.case["patient"],
        "age": {"value": chance.randint(24, 86), "unit": "years", "basis": "stated"},
        "weight": {"value": weight, "unit": "kg", "basis": chance.choice(["stated", "measured"])},
        "sex": chance.choice(["female", "male"]),
    }
    steps = tuple(step for step in base.steps if step.act not in ("cuff", "lose_contact", "arrest"))
    start = {"map": base.start["map"] * chance.uniform(0.95, 1.1), "hr": base.start["hr"] * chance.uniform(0.9, 1.05)}
    return replace(
        base,
        case={**base.case, "patient": patient},
        nature={**base.nature, "weight_kg": weight},
        start=start,
        steps=steps,
        eta_min=base.eta_min + chance.randint(-5, 10),
        wrong_readback=False,
    )
