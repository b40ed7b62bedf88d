"""What the rules look at: one case as plain values in the shapes of the API, times as aware datetimes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated

from msgspec import Struct, field
from msgspec.structs import force_setattr

from dosing.ground.aims import FormerAims as FormerAims
from dosing.ground.aims import Goal as Goal
from dosing.ground.airways import Airway
from dosing.ground.amounts import Amount as Amount
from dosing.ground.amounts import Number as Number
from dosing.ground.cannulas import Access
from dosing.ground.containers import Container as Container
from dosing.ground.countersign import Countersign as Countersign
from dosing.ground.exact import exact
from dosing.ground.given_before import Earlier
from dosing.ground.kinds import Id, Time, one_of
from dosing.ground.measurements import IN_OTHER_UNITS
from dosing.ground.oxygen import Cylinder as Cylinder
from dosing.ground.oxygen import OxygenFlow as OxygenFlow
from dosing.ground.phases import PhaseChange
from dosing.ground.seen import Seen
from dosing.ground.titration import Titration
from dosing.ground.waiting import Waiting

Measured = Number | str | dict[str, int] | None


class Age(Struct, frozen=True):
    """An age in ``years``, ``months`` or ``days``, and how it is known."""

    value: Number
    unit: str
    basis: str = "stated"


class Weight(Struct, frozen=True):
    """A body weight in kg, and how it is known: ``measured``, ``stated``, ``length`` or ``age``."""

    value: Number
    unit: str = "kg"
    basis: str = "stated"


class Patient(Struct, frozen=True, kw_only=True):
    """Who is treated; ``age`` None is an adult of unknown age, ``weight`` None a weight nobody knows.

    ``pregnancy_weeks`` are 0 of who is known not to be pregnant, None where that is not known.
    """

    age: Age | None = None
    weight: Weight | None = None
    sex: str = "unknown"
    label: str | None = None
    allergies: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    fluid_restricted: bool = False
    injuries: tuple[str, ...] = ()
    onset_at: Time | None = None
    bleeding_cause: str | None = None
    pregnancy_weeks: Number | None = None
    care_limits: str = "unknown"
    refuses_blood: bool = False
    bleeding_controlled: bool = False


class Values(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What one set of vitals measured, as it was sent; a measurement that was not taken is None."""

    sbp: Number | None = None
    dbp: Number | None = None
    map_reported: Number | None = None
    bp_method: str | None = None
    pulses: str | None = None
    hr: Number | None = None
    rr: Number | None = None
    spo2: Number | None = None
    etco2: Number | None = None
    temp_c: Number | None = None
    glucose_mg_dl: Number | None = None
    glucose_mmol_l: Number | None = None
    glucose_flag: str | None = None
    gcs: int | dict[str, int] | None = None
    avpu: str | None = None
    cap_refill_s: Number | None = None
    lungs: str | None = None
    rhythm: str | None = None
    lactate_mmol_l: Number | None = None
    oxygen_l_min: Number | None = None
    hb_g_dl: Number | None = None
    pupils: str | None = None
    skin: str | None = None
    source: str | None = None


class Reading(Values, frozen=True, kw_only=True):
    """One set of vitals with the time at which it was taken; what was told in another unit is there in both."""

    taken_at: Time
    id: str = ""

    def __post_init__(self) -> None:
        """Say exactly in the unit of the rules what was told in another: here alone, wherever the set came from."""
        for name, told in IN_OTHER_UNITS.items():
            value = getattr(self, name)
            if value is not None:
                same = exact(value) * told.times
                force_setattr(self, told.name, int(same) if same == int(same) else float(same))


class Latest(Struct, frozen=True):
    """The newest value of one measurement and when it was taken."""

    value: Measured
    taken_at: Time


class Proposal(Struct, frozen=True, kw_only=True):
    """A treatment not yet given: contract, "proposal"; ``container`` as in ``Dose``, ``access`` its ``Access``.

    ``new_rate``: another rate of the infusion that runs, not a second infusion.
    """

    treatment: str
    amount: Amount
    route: str
    at: Time
    stock: Amount | None = None
    concentration: Amount | None = None
    over_min: Number | None = None
    gauge: Number | None = None
    product: str | None = None
    container: Id | None = None
    access: Id | None = None
    indication: str | None = None
    new_rate: bool = False


class Rate(Struct, frozen=True):
    """A rate of an infusion from a moment on, None while it is held, and the weight by which it was checked then.

    ``concentration`` is that of the bag it ran from, where another one hangs since; else that of the dose.
    """

    at: Time
    amount: Amount | None
    weight: Weight | None = None
    concentration: Amount | None = None


class Dose(Struct, frozen=True, kw_only=True):
    """Something given: of an infusion ``amount`` is the rate in force; ``prior`` was given by others before.

    ``status`` is ``given``, ``running``, ``held``, ``finished`` or ``stopped``; what is held keeps its ``amount``.
    ``rates`` are all rates of an infusion, oldest first; ``stock`` is the strength stated, ``container`` the id of the
    syringe or bag that it was drawn from, where it was named.
    """

    id: Id
    treatment: str
    given_at: Time
    amount: Amount | None = None
    route: str = ""
    status: str = "given"
    ended_at: Time | None = None
    changed_at: Time | None = None
    infused: Amount | None = None
    concentration: Amount | None = None
    over_min: Number | None = None
    order: Id | None = None
    prior: bool = False
    name: str | None = None
    stock: Amount | None = None
    container: Id | None = None
    weight: Weight | None = None
    rates: tuple[Rate, ...] = ()
    indication: str | None = None
    product: str | None = None

    @property
    def goes_on(self) -> bool:
        """Whether it runs or is held, and so has not ended."""
        return self.status in ("running", "held")

    @property
    def none_went_in(self) -> bool:
        """Whether it was stopped before any of it went in."""
        return self.infused is not None and self.infused.value == 0

    @property
    def set_at(self) -> tuple[datetime, ...]:
        """When each rate of an infusion was set, oldest first: a pause is none."""
        return tuple(rate.at for rate in self.rates if rate.amount is not None)


class Reassessment(Struct, frozen=True, kw_only=True):
    """A reading that is asked for, from ``counts_from`` on; overdue from ``overdue_at`` on; none waits for ``also``."""

    id: Id
    intervention: Id
    because: str
    counts_from: Time
    needs: tuple[str, ...]
    also: tuple[str, ...] = ()
    due_at: Time
    overdue_at: Time
    done_at: Time | None = None
    state: Annotated[str, one_of("waiting", "done", "overdue", "unknown")] = "waiting"


class Order(Struct, frozen=True, kw_only=True):
    """An order or a request, as far as its clocks and limits go, ``told`` in words.

    While it ``waits_for_cosign`` it waits for a second physician; ``cosigned_by`` is who co-signed what lies beyond a
    hard limit. ``seen`` is what lay beyond the standing limits when it was decided, None where nothing was checked;
    ``known_since`` is what became known after that, for which it is to be decided again.
    """

    id: Id
    treatment: str
    state: str
    amount: Amount | None = None
    concentration: Amount | None = None
    route: str = ""
    times: int = 1
    every_min: Number | None = None
    over_min: Number | None = None
    given: int = 0
    waiting_since: Time | None = None
    to_read_back_from: Time | None = None
    expires_at: Time | None = None
    misread_at: Time | None = None
    by: str = ""
    title: str = ""
    told: str = ""
    indication: str | None = None
    action: str = "give"
    waits_for_cosign: bool = False
    cosigned_by: str = ""
    intervention: Id | None = None
    titrate: Titration | None = None
    decided_at: Time | None = None
    seen: tuple[Seen, ...] | None = None
    known_since: str = ""


class Facts(Struct, frozen=True, kw_only=True):
    """A case as the rules see it: the newest 60 sets oldest first, each measurement's newest value.

    ``doses`` are the newest, of each treatment the newest few, and what runs; those before are added up in ``earlier``.
    ``heard_of_at`` is when the board first heard of the case, at once or later.
    ``unanswered`` says how many readings are overdue before ``reassessments``, by what they were asked for after.
    ``no_coverage_until`` is until when the crew said that it cannot be heard, over once it is heard from
    ``coverage_back_from`` on; ``not_accepted_since`` since when no
    physician has control, ``moved_not_seen_since`` since when nobody of the new crew has opened a moved case.
    ``former_goals`` are those that physicians had set before ``goal``, ``former_aims`` what the rules aimed at before,
    oldest first.
    ``phases`` are in the order of their times; before the first it is ``transport``. ``airways`` are those
    that were tried or are in place.
    """

    patient: Patient
    opened_at: Time
    impression: str = "undifferentiated"
    complaint: str = ""
    state: str = "open"
    goal: Goal | None = None
    former_goals: tuple[Goal, ...] = ()
    former_aims: tuple[FormerAims, ...] = ()
    readings: tuple[Reading, ...] = ()
    latest: Mapping[str, Latest] = field(default_factory=dict)
    doses: tuple[Dose, ...] = ()
    earlier: Earlier = Earlier()
    reassessments: tuple[Reassessment, ...] = ()
    unanswered: Mapping[str, int] = field(default_factory=dict)
    orders: tuple[Order, ...] = ()
    waiting: tuple[Waiting, ...] = ()
    countersigns: tuple[Countersign, ...] = ()
    containers: tuple[Container, ...] = ()
    oxygen: tuple[OxygenFlow, ...] = ()
    access: tuple[Access, ...] = ()
    airways: tuple[Airway, ...] = ()
    phases: tuple[PhaseChange, ...] = ()
    eta: Time | None = None
    ended_at: Time | None = None
    last_contact_at: Time | None = None
    no_coverage_until: Time | None = None
    coverage_back_from: Time | None = None
    heard_of_at: Time | None = None
    not_accepted_since: Time | None = None
    moved_not_seen_since: Time | None = None
