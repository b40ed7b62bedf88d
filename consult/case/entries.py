"""What is asked of a case: one structure for each kind of entry, as the contract names its fields."""

from __future__ import annotations

from uuid import UUID

from msgspec import UNSET, Struct, UnsetType

from consult.state.done import Settings
from consult.state.parts import Repeat
from consult.state.questions import Form
from dosing.ground.facts import Age, Amount, Cylinder, Number, Patient, Weight
from dosing.ground.kinds import Time
from dosing.ground.titration import Titration


class Proposed(Struct, frozen=True, kw_only=True):
    """A treatment that is asked about or told of; ``name`` and ``amount_text`` of one that the rule set lacks."""

    treatment: str
    amount: Amount | None = None
    route: str | None = None
    stock: Amount | None = None
    concentration: Amount | None = None
    over_min: Number | None = None
    gauge: Number | None = None
    product: str | None = None
    indication: str | None = None
    name: str | None = None
    amount_text: str | None = None
    container: UUID | None = None
    access: UUID | None = None


class CheckEntry(Proposed, frozen=True, kw_only=True):
    """What is only asked about; ``new_rate`` of what runs, no second one; with steps, or an ``order`` to give it by."""

    new_rate: bool = False
    order: UUID | None = None
    titrate: Titration | None = None


class VoiceSaid(Struct, frozen=True, kw_only=True):
    """Which physician, by user name, ordered a dose by voice, and when."""

    physician: str
    at: Time


class DoseEntry(Proposed, frozen=True, kw_only=True):
    """What was given or is running."""

    given_at: Time
    order: UUID | None = None
    status: str = "given"
    given_by: str | None = None
    checked_by: str | None = None
    container_ml: Number | None = None
    prior: bool = False
    prior_by: str | None = None
    voice_order: VoiceSaid | None = None


class CountersignEntry(Struct, frozen=True, kw_only=True):
    """What the physician says who is named for a voice order; not ``agreed``: there was no such order."""

    agreed: bool = True
    reason: str | None = None


class ChangeEntry(Struct, frozen=True, kw_only=True):
    """The end of something that ran, a pause or its end, or its new rate; ``order`` is what it carries out.

    ``reason``: why it was held or has ended. ``concentration``: of the bag that hangs from then on.
    """

    status: str | None = None
    infused: Amount | None = None
    reason: str | None = None
    amount: Amount | None = None
    concentration: Amount | None = None
    order: UUID | None = None


class OrderEntry(Proposed, frozen=True, kw_only=True):
    """A request by crew, or an order by a physician."""

    reason: str | None = None
    repeat: Repeat | None = None
    action: str = "give"
    intervention: UUID | None = None
    titrate: Titration | None = None
    hard_limit_reason: str | None = None


class QuestionEntry(Struct, frozen=True, kw_only=True):
    """What a crew asks that is no order; guided topics come with their form."""

    topic: str
    text: str
    form: Form | None = None


class InstructionEntry(Struct, frozen=True, kw_only=True):
    """What a physician tells the crew to do, perhaps in answer to a question, with the decision on a guided one."""

    text: str
    question: UUID | None = None
    decision: str | None = None


class StepEntry(Struct, frozen=True, kw_only=True):
    """A step that needs no words, or may have a reason."""

    reason: str = ""


class DecisionEntry(Struct, frozen=True, kw_only=True):
    """A physician's answer to a request; ``titrate`` None takes the steps asked for away, unset leaves them."""

    decision: str
    reason: str | None = None
    amount: Amount | None = None
    route: str | None = None
    repeat: Repeat | None = None
    titrate: Titration | UnsetType | None = UNSET
    text: str = ""
    hard_limit_reason: str | None = None


class AnswerEntry(Struct, frozen=True, kw_only=True):
    """The crew's answer to a physician's question; ``question`` is what it answers, where that is said."""

    text: str
    question: str | None = None


class ReasonEntry(Struct, frozen=True, kw_only=True):
    """Why an order is withdrawn or was not given, or a case goes on."""

    reason: str


class ContainerEntry(Struct, frozen=True, kw_only=True):
    """A syringe that was mixed, a bag that was hung, a cylinder that was opened."""

    form: str
    treatment: str | None = None
    name: str | None = None
    strength: Amount | None = None
    volume: Amount | None = None
    cylinder: Cylinder | None = None
    mixed_by: str | None = None
    checked_by: str | None = None


class DiscardEntry(Struct, frozen=True, kw_only=True):
    """That a syringe, bag or cylinder is in hand no more."""

    reason: str = ""


class TextEntry(Struct, frozen=True, kw_only=True):
    """A few words, by a reviewer with what follows from them."""

    text: str
    outcome: str = ""


class ProcedureEntry(Struct, frozen=True, kw_only=True):
    """Something done that is not a drug."""

    procedure: str
    site: str | None = None
    gauge: Number | None = None
    outcome: str | None = None
    settings: Settings | None = None


class PhaseEntry(Struct, frozen=True, kw_only=True):
    """Which phase a case is in from then on."""

    phase: str


class TargetEntry(Struct, frozen=True):
    """The entry that a correction is about."""

    kind: str
    id: UUID


class CorrectionEntry(Struct, frozen=True, kw_only=True):
    """Marks another entry as entered in error."""

    target: TargetEntry
    reason: str


class NoticeEntry(Struct, frozen=True, kw_only=True):
    """That a person has seen an alert."""

    note: str = ""


class PatientPart(Struct, frozen=True, kw_only=True):
    """What of the patient changes; what is unset stays."""

    age: Age | UnsetType | None = UNSET
    weight: Weight | UnsetType | None = UNSET
    sex: str | UnsetType = UNSET
    label: str | UnsetType | None = UNSET
    allergies: tuple[str, ...] | UnsetType = UNSET
    history: tuple[str, ...] | UnsetType = UNSET
    fluid_restricted: bool | UnsetType = UNSET
    injuries: tuple[str, ...] | UnsetType = UNSET
    onset_at: Time | UnsetType | None = UNSET
    bleeding_cause: str | UnsetType | None = UNSET
    pregnancy_weeks: Number | UnsetType | None = UNSET
    care_limits: str | UnsetType = UNSET
    refuses_blood: bool | UnsetType = UNSET
    bleeding_controlled: bool | UnsetType = UNSET


class CaseChangeEntry(Struct, frozen=True, kw_only=True):
    """What is known of patient and journey; what is unset stays, null empties."""

    patient: PatientPart | UnsetType = UNSET
    complaint: str | UnsetType | None = UNSET
    impression: str | UnsetType | None = UNSET
    destination: str | UnsetType | None = UNSET
    destination_seen: str | UnsetType = UNSET
    incident: str | UnsetType | None = UNSET
    eta: Time | UnsetType | None = UNSET


class CaseEntry(Struct, frozen=True, kw_only=True):
    """A new case."""

    patient: Patient
    complaint: str | None = None
    impression: str | None = None
    destination: str | None = None
    incident: str | None = None
    eta: Time | None = None


class AcceptEntry(Struct, frozen=True, kw_only=True):
    """A physician takes control."""

    take_over: bool = False


class ReleaseEntry(Struct, frozen=True, kw_only=True):
    """Why a physician gives up control."""

    reason: str = ""


class OfferEntry(Struct, frozen=True, kw_only=True):
    """What is told to the colleague to whom control is offered."""

    note: str = ""


class Nothing(Struct, frozen=True):
    """An entry that says no more than that it is made."""


class MoveEntry(Struct, frozen=True, kw_only=True):
    """To which unit a patient is moved."""

    unit: UUID


class CoverageEntry(Struct, frozen=True, kw_only=True):
    """Until when a crew says that it cannot be heard."""

    until: Time


class HandoverEntry(Struct, frozen=True, kw_only=True):
    """To whom the patient is handed over."""

    to: str = ""


class CloseEntry(Struct, frozen=True, kw_only=True):
    """How the case ended."""

    outcome: str


class GoalEntry(Struct, frozen=True, kw_only=True):
    """The pressure goal that a physician sets, in mmHg."""

    measure: str
    floor: Number
    reason: str
    ceiling: Number | None = None
