"""Who may have what: the only place that hands out a case, an order, an alert, a unit or an agency."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TypeVar
from uuid import UUID

from django.db.models import F, Model, Q, QuerySet

from consult import problems, statements
from consult.actor import PHYSICIANS as PHYSICIANS
from consult.actor import Actor as Actor
from consult.actor import require_crew as require_crew
from consult.actor import require_director as require_director
from consult.actor import require_physician as require_physician
from consult.actor import require_supervisor as require_supervisor
from consult.actor import require_watcher as require_watcher
from consult.actor import require_writer as require_writer
from consult.models import (
    Alert,
    Case,
    Container,
    DeviceToken,
    Instruction,
    Intervention,
    JournalEntry,
    Membership,
    Order,
    Question,
    TookPart,
    Unit,
    User,
)
from consult.models.people import name_of
from consult.state.parts import Named
from dosing.ground.language import gettext as _

Row = TypeVar("Row", Order, Intervention, Question, Instruction)
PERSON = ("user__first_name", "user__last_name", "user__username")
OF_TOKEN = ("pk", *(f"membership__{name}" for name in ("id", "agency", "role", "unit", "name", "user", *PERSON)))
TOKEN_KEPT = timedelta(seconds=1)
TOKENS_KEPT_MOST = 10_000
_kept_tokens: dict[str, tuple[Actor, datetime]] = {}


def token_digest(text: str) -> str:
    """The SHA-256 under which a token is kept; 256 random bits need no slower hash."""
    return hashlib.sha256(text.encode()).hexdigest()


def actor_for_token(text: str, now: datetime) -> Actor:
    """Whose token this is; looked up again after a second, so that a revoked one ends by then."""
    digest = token_digest(text)
    kept = _kept_tokens.get(digest)
    if kept and timedelta(0) <= now - kept[1] < TOKEN_KEPT:
        return kept[0]
    found = next(iter(_of_token(digest, now)), None)
    if found is None:
        _kept_tokens.pop(digest, None)
        raise problems.NotSignedIn(_("The token is unknown, has expired or was revoked."))
    if len(_kept_tokens) >= TOKENS_KEPT_MOST:
        _kept_tokens.clear()
    token, membership, agency, role, unit, device, user, *person = found
    actor = Actor(membership, agency, role, unit, name_of(*person) if user else device, user, token)
    _kept_tokens[digest] = (actor, now)
    return actor


def forget_tokens() -> None:
    """Drop what is kept of tokens, so that the next call looks them up."""
    _kept_tokens.clear()


def memberships_of(user: User) -> list[Membership]:
    """What a person may act as, by agency name."""
    if not user.is_active:
        return []
    return list(
        Membership.objects.filter(user=user, ended_at=None)
        .select_related("agency", "unit")
        .order_by("agency__name", "role")
    )


def actor_for_user(user: User, membership_id: object, now: datetime) -> Actor:
    """The person as one membership: the one chosen, else the only one or the first."""
    memberships = memberships_of(user)
    if not memberships:
        raise problems.NotSignedIn(_("This account is no longer a member of any agency."))
    chosen = next((m for m in memberships if str(m.pk) == str(membership_id)), memberships[0])
    return replace(actor_of_membership(chosen, user=user), zone=chosen.agency.timezone)


def director_named(username: str, agency: str = "") -> Actor:
    """The person of this user name as medical director of an agency (its name), the only one where none is named."""
    user = User.objects.filter(username=username, is_active=True).first()
    if user is None:
        raise problems.NotFound(f"There is no active account {username!r}.")
    directed = {m.agency.name: m for m in memberships_of(user) if m.role == Membership.Role.DIRECTOR}
    if not directed:
        raise problems.Forbidden(f"{username!r} is medical director of no agency: only a director approves a rule set.")
    if agency and agency not in directed:
        raise problems.Forbidden(f"{username!r} is not medical director of {agency!r}, but of {_listed(directed)}.")
    if not agency and len(directed) > 1:
        raise problems.Invalid(f"{username!r} is medical director of {_listed(directed)}: name one by --agency.")
    return actor_of_membership(directed[agency or next(iter(directed))], user=user)


def _listed(names: Iterable[str]) -> str:
    return ", ".join(map(repr, names))


def physician_named(actor: Actor, username: str, pointer: str, *, ended_too: bool = False) -> Named:
    """The physician of the actor's agency with this user name; raises Invalid at the pointer where it has none.

    `ended_too`: one who is none any more counts, too, as what was given by their order is recorded all the same.
    """
    found = Membership.objects.filter(agency_id=actor.agency, user__username__iexact=username, role__in=PHYSICIANS)
    if not ended_too:
        found = found.filter(ended_at=None, user__is_active=True)
    newest = found.select_related("user").order_by(F("ended_at").desc(nulls_first=True), "-role", "id").first()
    if newest is None:
        raise problems.Invalid.at(pointer, _("There is no physician with this user name here."), "not_found")
    return Named(str(newest.pk), actor_of_membership(newest).name)


def physicians_of(actor: Actor) -> list[User]:
    """The physicians of the actor's agency who may sign in, by name."""
    members = Membership.objects.filter(agency_id=actor.agency, role__in=PHYSICIANS, ended_at=None)
    found = {each.user for each in members.filter(user__is_active=True).select_related("user") if each.user}
    return sorted(found, key=lambda user: user.display_name)


def same_person(actor: Actor, membership: str | None) -> bool:
    """Whether a membership is the actor's own, or another one of the same person."""
    if membership is None or membership == str(actor.membership):
        return membership is not None
    return actor.user_id is not None and Membership.objects.filter(pk=membership, user=actor.user_id).exists()


_of_token = statements.Compiled(lambda digest, now: valid_tokens(now).filter(digest=digest).values_list(*OF_TOKEN))


def valid_tokens(now: datetime) -> QuerySet[DeviceToken]:
    """The tokens that work at this time."""
    return DeviceToken.objects.filter(
        Q(membership__user=None) | Q(membership__user__is_active=True),
        revoked_at=None,
        expires_at__gt=now,
        membership__ended_at=None,
    )


def actor_of_membership(membership: Membership, *, user: User | None = None) -> Actor:
    """Who acts as this membership; `user` is the person, where that is known already."""
    owner = user or membership.user
    return Actor(
        membership=membership.pk,
        agency=membership.agency_id,
        role=membership.role,
        unit=membership.unit_id,
        name=owner.display_name if owner else membership.name,
        user_id=owner.pk if owner else None,
    )


def cases_of(actor: Actor) -> QuerySet[Case]:
    """The cases that the actor may see, as a query set."""
    cases = Case.objects.filter(agency_id=actor.agency)
    return cases.filter(unit=actor.unit) if actor.is_crew else cases


def past_cases_of(actor: Actor) -> QuerySet[Case]:
    """The cases that the actor may look back on: a physician on those that they took part in, by any membership."""
    cases = cases_of(actor)
    own = TookPart.objects.filter(physician__user=actor.user_id).values("case")
    return cases if actor.is_supervisor else cases.filter(pk__in=own)


def case_for(actor: Actor, uid: UUID, *, lock: bool = False, to_write: bool = False) -> Case:
    """The case with this id; another agency's, or for crews another unit's, is not found.

    ``to_write``, a crew also finds what was its unit's before.
    """
    wanted = _own(actor, uid)
    found = Case.objects.select_related("unit").filter(**wanted)  # at most one: no order to ask the database for
    case = statements.lock(Case, wanted) if lock else next(iter(found), None)
    if case is None and to_write and actor.is_crew:
        case = had_before(actor, uid)
    if case is None:
        raise problems.NotFound(_("There is no such case here."))
    return case


def _own(actor: Actor, uid: UUID) -> dict[str, object]:
    return {"agency_id": actor.agency, "uid": uid, **({"unit_id": actor.unit} if actor.is_crew else {})}


def case_to_write(
    actor: Actor, uid: UUID, makes: type[Model] | None = None, head: str = ""
) -> tuple[Case, datetime | None]:
    """The locked case; also to the crew of a unit that had the patient before, and then until when it had.

    What an entry `makes` is handed to `statements.lock`. State and card are not read while its newest line is `head`.
    """
    own = statements.lock(Case, _own(actor, uid), makes, statements.Unread(("folded", "card"), "head", head))
    if own is not None:
        return own, None
    case = statements.lock(Case, {"agency_id": actor.agency, "uid": uid}, makes) if had_before(actor, uid) else None
    if case is None:
        raise problems.NotFound(_("There is no such case here."))
    return case, had_until(actor, case)  # it may have moved once more before it was locked


def had_until(actor: Actor, case: Case) -> datetime | None:
    """Until when the crew's unit had the patient of a case that another has now; None where it never had, or has."""
    if not actor.is_crew or case.unit_id == actor.unit:
        return None
    times = [datetime.fromisoformat(each["until"]) for each in case.former_units if each["id"] == str(actor.unit)]
    return max(times, default=None)


def had_before(actor: Actor, uid: UUID) -> Case | None:
    """The case with this id whose patient the crew's unit had before another; None where it is no such case."""
    case = Case.objects.select_related("unit").filter(agency_id=actor.agency, uid=uid).first()
    return case if case and had_until(actor, case) else None


def may_have(actor: Actor, case: Case, *, to_write: bool = False) -> bool:
    """Whether the actor may have what belongs to this case; ``to_write``, a crew also what was its unit's before."""
    if case.agency_id != actor.agency:
        return False
    return not actor.is_crew or case.unit_id == actor.unit or (to_write and had_until(actor, case) is not None)


def order_for(actor: Actor, uid: UUID, *, to_write: bool = False) -> Order:
    """The order with this id, in a case that the actor may see or, ``to_write``, of which it may still tell."""
    return _subject(actor, Order, uid, "order", to_write)


def intervention_for(actor: Actor, uid: UUID, *, to_write: bool = False) -> Intervention:
    """The intervention with this id, in a case that the actor may see or, ``to_write``, of which it may still tell."""
    return _subject(actor, Intervention, uid, "intervention", to_write)


def question_for(actor: Actor, uid: UUID, *, to_write: bool = False) -> Question:
    """The question with this id, likewise."""
    return _subject(actor, Question, uid, "question", to_write)


def instruction_for(actor: Actor, uid: UUID, *, to_write: bool = False) -> Instruction:
    """The instruction with this id, likewise."""
    return _subject(actor, Instruction, uid, "instruction", to_write)


def _subject(actor: Actor, model: type[Row], uid: UUID, noun: str, to_write: bool) -> Row:
    entry = JournalEntry.objects.filter(agency_id=actor.agency, entry=uid).values("subject").first()
    row = model.objects.select_related("case").filter(pk=entry["subject"] or 0, uid=uid).first() if entry else None
    if row is None or not may_have(actor, row.case, to_write=to_write):
        raise problems.NotFound(_("There is no such {noun} here.", noun=noun))
    return row


def container_for(actor: Actor, uid: UUID, *, to_write: bool = False) -> Container:
    """The syringe, bag or cylinder with this id, likewise; one hung has its dose's id."""
    entry = JournalEntry.objects.filter(agency_id=actor.agency, entry=uid).values("case").first()
    found = Container.objects.select_related("case").filter(case=entry["case"], uid=uid) if entry else ()
    row = next(iter(found), None)
    if row is None or not may_have(actor, row.case, to_write=to_write):
        raise problems.NotFound(_("There is no such syringe, bag or cylinder here."))
    return row


def alert_for(actor: Actor, uid: UUID) -> Alert:
    """The alert with this id, in a case that the actor may see."""
    alert = Alert.objects.select_related("case").filter(uid=uid, case__in=cases_of(actor)).first()
    if alert is None:
        raise problems.NotFound(_("There is no such alert here."))
    return alert


def unit_for(actor: Actor, unit_id: UUID | None) -> Unit:
    """A unit of the actor's agency; a crew's own only."""
    if actor.is_crew and unit_id != actor.unit:
        raise problems.NotFound(_("There is no such unit here."))
    return unit_of_agency(actor, unit_id)


def unit_of_agency(actor: Actor, unit_id: UUID | None) -> Unit:
    """A unit of the actor's agency: to which a patient may be moved."""
    unit = Unit.objects.filter(agency_id=actor.agency, pk=unit_id).first() if unit_id else None
    if unit is None:
        raise problems.NotFound(_("There is no such unit here."))
    return unit
