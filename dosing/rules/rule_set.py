"""A rule set: treatments with their limits, pressure goals and waiting times, every number with its source.

The numbers are data (``rule_sets/*.toml``); this file says what kinds of rule there are and reads none of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Any

from dosing.rules import words
from dosing.rules.ending import EndingCriterion
from dosing.rules.parts import (
    Band,
    Causes,
    Caution,
    Figure,
    Impressions,
    Injuries,
    Lasts,
    Limit,
    Phases,
    ReassessmentRule,
    Recipe,
    Shared,
    Source,
    Step,
    Stocked,
    Strength,
    Wants,
    Where,
    Window,
)
from dosing.rules.procedures import ProcedureRule
from dosing.rules.shape import Keys, Longest, Made, Mark, Named, OneOf, Sign, Unit
from dosing.rules.treatment import Indication, Treatment, given_for
from dosing.rules.vital_signs import HighPressureRule, VitalSignRule

__all__ = [
    "Band",
    "Caution",
    "Figure",
    "HighPressureRule",
    "Indication",
    "Lasts",
    "Limit",
    "OtherNames",
    "Product",
    "ReassessmentRule",
    "Recipe",
    "Shared",
    "Source",
    "Step",
    "Stocked",
    "Strength",
    "Treatment",
    "VitalSignRule",
    "Wants",
    "Where",
    "Window",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherNames:
    """What else a drug of this set is called, so that a dose that is told by such a name is known for what it is."""

    drug: Annotated[str, "as its treatments say it"]
    names: Annotated[tuple[str, ...], "found as whole words, in any case, also among others"]
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """What of blood or fluid there is by name, and what a bag of it usually holds."""

    name: str
    names: Annotated[tuple[str, ...], "what else it is called: found as whole words, in any case"] = ()
    holds: Annotated[Figure, Unit("mL"), "a bag of it, usually"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalRule:
    """A pressure goal and for whom: of the rules of one measure the first that fits decides."""

    name: str
    measure: Annotated[str, OneOf(words.MEASURES)]
    floor: Annotated[float, "mmHg"]
    because: Annotated[str, "as the card says it"]
    source: Source
    adult: Annotated[bool | None, "left out: at any age"] = None
    ceiling: Annotated[float | None, "mmHg, above the floor"] = None
    impressions: Annotated[Impressions, "one of these working impressions"] = frozenset()
    injuries: Annotated[Injuries, "with one of these injuries"] = frozenset()
    phases: Annotated[Phases, "in one of these phases of a case"] = frozenset()
    without_injuries: Annotated[Injuries, "with none of these injuries"] = frozenset()
    bleeding_causes: Annotated[Causes, "with one of these causes of bleeding"] = frozenset()
    from_years: Annotated[float | None, "this age and more"] = None
    under_years: Annotated[float | None, "under this age"] = None
    from_weeks: Annotated[float | None, "of pregnancy, these weeks and more"] = None
    under_weeks: Annotated[float | None, "of pregnancy, under these weeks, or not pregnant"] = None
    bleeding_controlled: Annotated[bool | None, "whether somebody has told that the bleeding is controlled"] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureRule:
    """Limits of pressure, and how long a reading stays fresh."""

    critical_map: Annotated[float, Unit("mmHg"), "below it a MAP is critical"]
    critical_sbp: Annotated[float, Unit("mmHg"), "below it a systolic is critical"]
    critical_sbp_head: Annotated[float, Unit("mmHg"), "below it an adult's systolic is critical with a head injury"]
    critical_under_goal: Annotated[
        float, Unit("mmHg"), Sign.FROM_ZERO, "so far under a goal that lies below these it is critical"
    ]
    always_critical_map: Annotated[float, Unit("mmHg"), "below it a MAP is critical whatever goal is permitted"]
    always_critical_sbp: Annotated[float, Unit("mmHg"), "below it a systolic is critical whatever goal is permitted"]
    always_critical_years: Annotated[float, Unit("years"), Sign.FROM_ZERO, "from this age on these two hold"]
    usual_map_floor: Annotated[float, Unit("mmHg"), "the usual MAP, at least"]
    usual_map_ceiling: Annotated[float, Unit("mmHg"), "the usual MAP, at most"]
    well_above: Annotated[float, Unit("mmHg"), Sign.FROM_ZERO, "so far above the goal a pressor needs an order"]
    stale_pressor_min: Annotated[float, Unit("min"), "how old a pressure may be for pressors, sedatives, opioids"]
    stale_min: Annotated[float, Unit("min"), "how old it may be for all else"]
    sedation_map: Annotated[float, Unit("mmHg"), "under it an adult gets sedatives and opioids by order"]
    sedation_sbp: Annotated[float, Unit("mmHg"), "the same by the systolic"]
    opioid_with_sedative_min: Annotated[float, Unit("min"), "within it the two together are flagged"]
    grace_s: Annotated[float, Unit("s"), Sign.FROM_ZERO, "how much too early a dose may come"]
    sources: Made[Mapping[str, Source]]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRule:
    """When a case needs a person: waiting times, what counts as a falling pressure, limits of the other vital signs."""

    no_contact_min: Annotated[float, Unit("min"), "without news of a unit"]
    waiting_s: Annotated[float, Unit("s"), "in which an order is read back if nothing is prepared for it"]
    read_back_mixed_s: Annotated[
        float, Unit("s"), "in which an order is read back if something is drawn up or mixed first"
    ]
    request_alarm_s: Annotated[float, Unit("s"), "for which a request waits before it alarms"]
    question_alarm_s: Annotated[float, Unit("s"), "for which a question waits before it alarms"]
    not_accepted_s: Annotated[float, Unit("s"), "for which a case may be without a physician who has control"]
    moved_not_seen_s: Annotated[float, Unit("s"), "for which a moved case may be unopened by its new crew"]
    no_pressure_low_min: Annotated[float, Unit("min"), "without a pressure, while it is low"]
    no_pressure_min: Annotated[float, Unit("min"), "without a pressure, else"]
    no_pressure_grace_s: Annotated[float, Unit("s"), "in which one that was taken is sent, before that alarms"]
    no_sedation_min: Annotated[float, Unit("min"), "without a sedative or opioid, while a relaxant may act"]
    no_sedation_grace_s: Annotated[float, Unit("s"), "in which one that was given is sent, before that alarms"]
    crackles_after_fluid_min: Annotated[float, Unit("min"), "after fluid in which new crackles alarm"]
    running_out_high_min: Annotated[float, Unit("min"), "before a pressor in hand is used up, from which on it is high"]
    countersign_min: Annotated[float, Unit("min"), "for which a voice order waits to be countersigned before it alarms"]
    coverage_most_min: Annotated[float, Unit("min"), "ahead a crew may say that it cannot be heard"]
    low_in_a_row: Annotated[float, Unit("readings"), "low ones that raise an alert, fine ones that end it"]
    clear_above_goal: Annotated[float, Unit("mmHg"), Sign.FROM_ZERO, "so far above it one fine reading ends it"]
    low_again_min: Annotated[float, Unit("min"), "after a low pressure ended, in which the same is no news"]
    low_again_mmhg: Annotated[float, Unit("mmHg"), "by which it must be lower than before to be news"]
    falling_readings: Annotated[float, Unit("readings"), "at least, for a falling MAP"]
    falling_span_min: Annotated[float, Unit("min"), "the time that they cover, at least"]
    falling_window_min: Annotated[float, Unit("min"), "the time in which they lie"]
    falling_slope: Annotated[float, Unit("mmHg/min"), Sign.BELOW_ZERO, "by which it falls, or faster"]
    falling_share: Annotated[float, Unit("of pair slopes"), "how many of them fall at all"]
    falling_crossing_min: Annotated[float, Unit("min"), "within which it will pass the goal"]
    falling_after_push_min: Annotated[float, Unit("min"), "for which nothing is said after a push"]
    order_single_min: Annotated[float, Unit("min"), "for which an order for one dose holds"]
    order_repeat_min: Annotated[float, Unit("min"), "for which an order for several holds"]
    response_window_min: Annotated[float, Unit("min"), "in which a response to a dose is looked for"]
    response_map: Annotated[float, Unit("mmHg"), "by which the MAP changes, to be one"]
    response_pulse_pressure_percent: Annotated[float, Unit("%"), "by which the pulse pressure grows, to be one"]
    after_pressor_min: Annotated[float, Unit("min"), "for which the signs below are put down to a pressor"]
    after_pressor_rate_above: Annotated[float, Unit("beats per min"), "an adult's fast heart"]
    after_pressor_rate_below: Annotated[float, Unit("beats per min"), "a slow heart"]
    after_pressor_rate_change: Annotated[float, Unit("beats per min"), "by which it has changed, to be news"]
    after_pressor_rate_by: Annotated[float, Unit("beats per min"), "or by which it lies beyond, to be news"]
    after_pressor_sbp_above: Annotated[float, Unit("mmHg"), "a high systolic; lower where it is high for the patient"]
    pressor_again_min: Annotated[float, Unit("min"), "from one pressure to the next while a pressor runs"]
    arrest_cycle_min: Annotated[float, Unit("min"), "of compressions, from one look at the rhythm to the next"]
    pulse_back_set_min: Annotated[float, Unit("min"), "after the pulse came back, until the first set of vitals is due"]
    pulse_back_grace_s: Annotated[float, Unit("s"), "after which that is overdue"]
    sources: Made[Mapping[str, Source]]
    vital_signs: tuple[VitalSignRule, ...]
    high_pressure: tuple[HighPressureRule, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerRule:
    """What is in hand: when it is discarded, how a rate is read off pushes, when running out is news."""

    discard_after_h: Annotated[float, Unit("h"), "after it was mixed"]
    largest_syringe_ml: Annotated[float, Unit("mL"), "the largest in use: more hangs in a bag"]
    pushes_for_rate: Annotated[float, Unit("pushes"), "the last ones, of which the rate of use is shown"]
    push_lasts_min: Annotated[float, Unit("min"), "how far apart such pushes are at most"]
    running_out_min: Annotated[float, Unit("min"), "before it is empty"]
    sources: Made[Mapping[str, Source]]


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpRule:
    """What rates a pump runs."""

    least: Annotated[float, Unit("mL/h")]
    most: Annotated[float, Unit("mL/h")]
    step: Annotated[float, Unit("mL/h"), "by which it is set"]
    off_percent: Annotated[float, Unit("%"), "by which the step may change the dose before that is said"]
    leap_times: Annotated[
        float,
        Unit("times"),
        "a new rate is flagged if it is more than so many times the old one, or the other way around",
    ]
    sources: Made[Mapping[str, Source]]


@dataclass(frozen=True, slots=True, kw_only=True)
class DropSet:
    """A drip set."""

    drops: Annotated[Figure, Unit("drops per mL")]


@dataclass(frozen=True, slots=True, kw_only=True)
class PushPull:
    """A syringe for pushing and pulling fluid into a child."""

    holds: Annotated[Figure, Unit("mL")]
    managed: Annotated[Figure | None, Unit("mL/min"), "what people reached with it in a test"] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Syringe:
    """A syringe: what it holds, and the smallest volume that its marks show."""

    holds: Annotated[Figure, Unit("mL")]
    reads: Annotated[Figure, Unit("mL")]


@dataclass(frozen=True, kw_only=True, repr=False, eq=False)
class RuleSet:
    """A whole rule set: what a file says, put upon the set that it extends.

    Whether its doses make sense (mass, a child's limits, hard limits) the loader checks.
    """

    name: Annotated[str, Longest(60)]
    version: Annotated[str, Longest(30)]
    title: Annotated[str, Longest(200)]
    sources: Annotated[Mapping[str, Source], Mark.DEFINED, "where numbers come from"]
    tall_man: Annotated[Mapping[str, str], "drug names, and how their letters are shown"]
    names: Annotated[tuple[OtherNames, ...], "what else its drugs are called"] = ()
    products: Annotated[tuple[Product, ...], "products of blood, by which bags are counted and told in mL"]
    findings: Annotated[Mapping[str, Source], Keys(dict.fromkeys(sorted(words.FINDINGS), "")), "where each comes from"]
    goals: Annotated[tuple[GoalRule, ...], "one of each measure at least is for every adult"] = ()
    pressure: PressureRule
    watch: WatchRule
    ledger: LedgerRule
    flow: Annotated[Mapping[str, Figure], Keys(words.FLOW), "what cannulas let through, what can be counted"]
    drop_sets: tuple[DropSet, ...]
    push_pull: tuple[PushPull, ...]
    pump: PumpRule
    syringes: tuple[Syringe, ...]
    procedures: Annotated[tuple[ProcedureRule, ...], "settings of pacing and shocks"]
    end_resuscitation: Annotated[
        Mapping[str, EndingCriterion], Named(words.SLUG, words.SLUG_TOLD), "when a resuscitation may be ended"
    ] = field(default_factory=dict)
    treatments: Annotated[
        Mapping[str, Treatment], Named(words.SLUG, words.SLUG_TOLD), "in the order in which they are shown"
    ]
    digest: Made[str]  # SHA-256 of the canonical content
    content: Made[Mapping[str, Any]]
    text: Made[str]  # all of it for ``loads``: the file itself, or JSON where the file stands upon another

    def __repr__(self) -> str:
        return f"<RuleSet {self.name} {self.version} {self.digest[:12]}>"

    @cached_property
    def label(self) -> dict[str, str]:
        """Name, version and digest, as every check answer carries them."""
        return {"name": self.name, "version": self.version, "digest": self.digest}

    def treatment(self, slug: str, indication: str | None = None) -> Treatment:
        """The treatment as it is given for an indication, for its usual one where that is none of its own.

        Raises KeyError for a treatment that the set lacks.
        """
        known = self.given_for[slug]
        return next((each for each in known if each.indication == indication), known[0])

    @cached_property
    def of_class(self) -> dict[str, frozenset[str]]:
        """The treatments of each class."""
        classes = {each.drug_class for each in self.treatments.values()}
        return {
            name: frozenset(slug for slug, each in self.treatments.items() if each.drug_class == name)
            for name in classes
        }

    @cached_property
    def given_for(self) -> dict[str, tuple[Treatment, ...]]:
        """Each treatment as it is given for each of its indications, the usual one first."""
        return {slug: tuple(given_for(treatment)) for slug, treatment in self.treatments.items()}
