"""What of a case is older than its state keeps, read from the rows while the case is locked."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import msgspec
from django.db.models import QuerySet

from consult import events
from consult.case.decide.asked import StoredDose
from consult.case.dose import OTHER
from consult.case.entries import DoseEntry
from consult.case.fold.measured import KEPT_PRESSURES, KEPT_READINGS, order_of, with_reading
from consult.case.fold.treated import dose_after, in_time
from consult.events import Measured
from consult.journal.read import events_of
from consult.models import (
    Alert,
    Case,
    Container,
    Instruction,
    Intervention,
    Order,
    Question,
    Reassessment,
    Vitals,
)
from consult.resources.alerts import alert
from consult.resources.entries import reassessment
from consult.resources.orders import order_state
from consult.resources.questions import instruction_state, question_state
from consult.rows.projection import CORRECTABLE
from consult.state.case import CaseState
from consult.state.check import Check
from consult.state.parts import Alert as AlertState
from consult.state.parts import Countersigned, Given, KeptReading
from consult.state.parts import Order as OrderState
from consult.state.questions import Instruction as InstructionState
from consult.state.questions import Question as QuestionState
from dosing.ground.facts import Reassessment as Asked
from dosing.ground.kinds import HAPPENINGS

DOSES = (
    events.InterventionRecorded,
    events.InterventionChanged,
    events.InterventionJudgedAnew,
    events.EntryCorrected,
)


class StoredPast:
    """The past of one case; `state` is what is kept of it."""

    def __init__(self, case: Case, state: CaseState) -> None:
        self._case = case
        self._state = state

    def readings_before(self, at: datetime) -> tuple[KeptReading, ...]:
        """The newest sets up to a moment, and beyond them the newest that say something about the pressure."""
        known = self._vitals().filter(taken_at__lte=at).order_by("-taken_at", "-seq")
        rows = {row.pk: row for row in known[:KEPT_READINGS]}
        rows |= {row.pk: row for row in known.exclude(derived__pressure=None)[:KEPT_PRESSURES]}
        return tuple(sorted(map(kept_reading, rows.values()), key=order_of))

    def readings_since(self, at: datetime) -> tuple[KeptReading, ...]:
        """All sets from a moment on, oldest first."""
        return tuple(map(kept_reading, self._vitals().filter(taken_at__gte=at).order_by("taken_at", "seq")))

    def _vitals(self) -> QuerySet[Vitals]:
        return Vitals.objects.filter(case=self._case, in_error=False)

    def order(self, order_id: str) -> OrderState | None:
        """An order of this case, open or not."""
        row = Order.objects.filter(case=self._case, uid=order_id).select_related("case").first()
        return order_state(row) if row else None

    def ended_orders(self, treatment: str, states: Iterable[str]) -> tuple[OrderState, ...]:
        """The orders of a treatment in these states, newest first."""
        rows = Order.objects.filter(case=self._case, treatment=treatment, state__in=states)
        return tuple(map(order_state, rows.select_related("case").order_by("-id")))

    def question(self, question_id: str) -> QuestionState | None:
        """A question of this case, open or not."""
        row = Question.objects.filter(case=self._case, uid=question_id).select_related("case").first()
        return question_state(row) if row else None

    def instruction(self, instruction_id: str) -> InstructionState | None:
        """An instruction of this case, open or not."""
        row = Instruction.objects.filter(case=self._case, uid=instruction_id).select_related("case").first()
        return instruction_state(row) if row else None

    def every_dose(self) -> tuple[Given, ...]:
        """Each dose as it stands, oldest first."""
        doses: dict[str, Given] = {}
        for event in events_of(self._case, DOSES):
            match event:
                case events.InterventionRecorded(dose=dose):
                    doses[dose.id] = dose
                case events.InterventionChanged(intervention=dose_id):
                    doses[dose_id] = dose_after(doses[dose_id], event)
                case events.InterventionJudgedAnew(intervention=dose_id, verdict=verdict):
                    doses[dose_id] = msgspec.structs.replace(doses[dose_id], verdict=verdict)
                case events.EntryCorrected(target=events.Target(kind="intervention", id=dose_id)):
                    doses[dose_id] = msgspec.structs.replace(doses[dose_id], in_error=True)
        return in_time(doses.values())

    def dose(self, dose_id: str) -> StoredDose:
        """A dose as it was told."""
        return _stored(self._doses().get(uid=dose_id))

    def doses(self, dose_ids: Iterable[str]) -> tuple[StoredDose, ...]:
        """These doses as they were told, oldest first."""
        rows = self._doses().filter(uid__in=list(dose_ids)).exclude(treatment=OTHER)
        return tuple(map(_stored, rows.order_by("given_at", "seq")))

    def _doses(self) -> QuerySet[Intervention]:
        return Intervention.objects.filter(case=self._case).select_related("order__case")

    def without_reading(self, reading_id: str) -> Measured:
        """What the measurements are without this set: all others read again, in the order in which they came."""
        bare = msgspec.structs.replace(self._state, readings=(), latest={}, oxygen=())
        for row in self._vitals().exclude(uid=reading_id).order_by("seq").iterator(chunk_size=1000):
            bare = with_reading(bare, kept_reading(row))
        kept, left = ({each.id for each in state.readings} for state in (self._state, bare))
        names = self._state.latest.keys() | bare.latest.keys()
        was, now = self._state.latest, bare.latest
        return Measured(
            gone=tuple(sorted(kept - left)),
            back=tuple(each for each in bare.readings if each.id not in kept),
            latest={name: now.get(name) for name in sorted(names) if was.get(name) != now.get(name)},
            oxygen=bare.oxygen if bare.oxygen != self._state.oxygen else None,
        )

    def helped_by(self, reading_id: str) -> tuple[Asked, ...]:
        """The reassessments that are done and that this set may have helped to complete."""
        taken_at = Vitals.objects.values_list("taken_at", flat=True).get(case=self._case, uid=reading_id)
        done = Reassessment.objects.filter(case=self._case, state=Reassessment.State.DONE)
        rows = done.filter(counts_from__lte=taken_at, done_at__gte=taken_at).select_related("intervention")
        return tuple(reassessment(row, str(row.intervention.uid)) for row in rows.order_by("due_at", "uid"))

    def unanswered(self) -> tuple[Asked, ...]:
        """The overdue readings that the state only counts, soonest first."""
        overdue = Reassessment.objects.filter(case=self._case, state=Reassessment.State.OVERDUE)
        rows = overdue.exclude(uid__in=[each.id for each in self._state.reassessments]).select_related("intervention")
        return tuple(reassessment(row, str(row.intervention.uid)) for row in rows.order_by("due_at", "uid"))

    def alert(self, kind: str, cause: str) -> AlertState | None:
        """The open alert of this kind and cause."""
        return self._newest(self._alerts().filter(kind=kind, cause=cause))

    def newest_alert(self, but: Iterable[str]) -> AlertState | None:
        """The newest open alert that the state may only count, but for these."""
        return self._newest(self._alerts().filter(kind__in=HAPPENINGS).exclude(uid__in=[*but]))

    def _alerts(self) -> QuerySet[Alert]:
        return Alert.objects.filter(case=self._case, cleared_at=None).order_by("-raised_at", "-id")

    def _newest(self, rows: QuerySet[Alert]) -> AlertState | None:
        row = rows.first()
        if row is None:
            return None
        row.case = self._case
        return alert(row)

    def entry_state(self, kind: str, entry_id: str) -> bool | None:
        """Whether an entry of this kind is marked as entered in error; None where there is none."""
        found = CORRECTABLE[kind]._default_manager.filter(case=self._case, uid=entry_id)
        marked: bool | None = found.values_list("in_error", flat=True).first()
        return marked

    def offset_of_container(self, container_id: str) -> int | None:
        """The correction of the entry that told of a container."""
        found = Container.objects.filter(case=self._case, uid=container_id)
        return found.values_list("clock_offset_s", flat=True).first()


def kept_reading(row: Vitals) -> KeptReading:
    """A set of vitals as the state keeps it."""
    known = {**row.data, "id": str(row.uid), "taken_at": row.taken_at, "seq": row.seq, "map": row.derived["map"]}
    return msgspec.convert(known, KeptReading)


def _stored(row: Intervention) -> StoredDose:
    check = msgspec.convert(row.verdict, Check)
    return StoredDose(
        id=str(row.uid),
        # what was told as another drug may be judged as one of the rules
        entry=msgspec.convert({**row.data, "treatment": row.treatment, "given_at": row.given_at}, DoseEntry),
        offset_s=row.clock_offset_s,
        check=check,
        check_now=msgspec.convert(row.judged_anew, Check) if row.judged_anew else check,
        order=order_state(row.order) if row.order else None,
        countersigned=msgspec.convert(row.countersigned, Countersigned) if row.countersigned else None,
    )
