"""A rule set: treatments with their limits, pressure goals and waiting times, every number with its source.

The numbers are data (``rule_sets/*.toml``); this file says what kinds of rule there are and reads none of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from dosing.rules.parts import (
    Band,
    Caution,
    Figure,
    Lasts,
    Limit,
    ReassessmentRule,
    Recipe,
    Shared,
    Source,
    Step,
    Strength,
    Treatment,
    Wants,
    Where,
    Window,
)
from dosing.rules.vital_signs import VitalSignRule

__all__ = [
    "Band",
    "Caution",
    "Figure",
    "GoalRule",
    "Lasts",
    "LedgerRule",
    "Limit",
    "PressureRule",
    "PumpRule",
    "PushPull",
    "ReassessmentRule",
    "Recipe",
    "RuleSet",
    "Shared",
    "Source",
    "Step",
    "Strength",
    "Treatment",
    "VitalSignRule",
    "Wants",
    "WatchRule",
    "Where",
    "Window",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalRule:
    """A pressure goal and for whom: of the rules of one measure the first that fits decides.

    ``adult`` None fits all ages; ``injuries`` fits where one of them is there, ``without_injuries`` where none is.
    """

    name: str
    measure: str
    floor: float
    because: str
    source: Source
    adult: bool | None = None
    ceiling: float | None = None
    impressions: frozenset[str] = frozenset()
    injuries: frozenset[str] = frozenset()
    without_injuries: frozenset[str] = frozenset()
    bleeding_causes: frozenset[str] = frozenset()
    from_years: float | None = None
    under_years: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRule:
    """Limits of pressure in mmHg and how long a reading stays fresh, in minutes; ``grace_s`` on dose intervals.

    Under ``sedation_map`` or ``sedation_sbp`` an adult gets sedatives and opioids by order; the two together within
    ``opioid_with_sedative_min`` are told.
    """

    critical_map: float
    critical_sbp: float
    critical_under_goal: float
    usual_map_floor: float
    usual_map_ceiling: float
    well_above: float
    stale_pressor_min: float
    stale_min: float
    sedation_map: float
    sedation_sbp: float
    opioid_with_sedative_min: float
    grace_s: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRule:
    """When a case needs a person: waiting times, what counts as a falling pressure, limits of the other vital signs."""

    no_contact_min: float
    waiting_s: float
    low_in_a_row: float
    clear_above_goal: float
    falling_readings: float
    falling_span_min: float
    falling_window_min: float
    falling_slope: float
    falling_share: float
    falling_crossing_min: float
    falling_after_push_min: float
    order_single_min: float
    order_repeat_min: float
    response_window_min: float
    response_map: float
    response_pulse_pressure_percent: float
    after_pressor_min: float
    after_pressor_rate_above: float
    after_pressor_rate_below: float
    after_pressor_sbp_above: float
    sources: Mapping[str, Source]
    vital_signs: tuple[VitalSignRule, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerRule:
    """What is in hand: when it is discarded, how a rate is read off pushes, when running out is news."""

    discard_after_h: float
    largest_syringe_ml: float
    pushes_for_rate: float
    push_lasts_min: float
    running_out_min: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpRule:
    """What rates a pump runs, in mL/h, and by how many percent its step may change the dose before that is said."""

    least: float
    most: float
    step: float
    off_percent: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class PushPull:
    """A syringe for pushing and pulling fluid into a child, and the mL/min that people managed with it in a test."""

    holds: Figure
    managed: Figure | None = None


@dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class RuleSet:
    """All rules of one edition; ``digest`` is the SHA-256 of their canonical content.

    ``text`` is the whole set for ``loads``: the file itself, or all of it as JSON where the file stands upon another.
    """

    name: str
    version: str
    title: str
    digest: str
    goals: tuple[GoalRule, ...]
    treatments: Mapping[str, Treatment]
    pressure: PressureRule
    watch: WatchRule
    ledger: LedgerRule
    findings: Mapping[str, Source]
    sources: Mapping[str, Source]
    tall_man: Mapping[str, str]
    flow: Mapping[str, Figure]
    drop_sets: tuple[Figure, ...]
    push_pull: tuple[PushPull, ...]
    pump: PumpRule
    syringes: tuple[tuple[Figure, Figure], ...]
    content: Mapping[str, Any]
    text: str

    def __repr__(self) -> str:
        return f"<RuleSet {self.name} {self.version} {self.digest[:12]}>"

    @cached_property
    def label(self) -> dict[str, str]:
        """Name, version and digest, as every check answer carries them."""
        return {"name": self.name, "version": self.version, "digest": self.digest}
