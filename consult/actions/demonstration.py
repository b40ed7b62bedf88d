"""The demonstration: an invented agency and another beside it, with people, units and devices; who works a case.

Passwords follow from the installation's secret key, so they can be shown again and are stored nowhere.
"""

from __future__ import annotations

import hashlib
import hmac
from datetime import datetime

from django.conf import settings
from django.db import transaction

from consult import access, events
from consult.access import Actor
from consult.actions import accounts
from consult.actions.carry_out import let_time_work
from consult.models import Agency, Case, JournalEntry, LastLook, Membership
from consult.problems import NotFound

AGENCY, OTHER_AGENCY = "Brindle Vale Medical Control", "Harrow Fen Ambulance"
UNITS = ("Kestrel 2", "Plover 8", "Finch 6", "Wren 5", "Badger 1", "Marten 4")
CALLS = dict(zip(UNITS, ("555 0142", "channel MED 4", "555 0146", "555 0145", "channel MED 4", ""), strict=True))
PEOPLE = {
    "physician": ("merrin", "Dr. Ida", "Merrin"),
    "physician2": ("quillan", "Dr. Tomas", "Quillan"),
    "supervisor": ("averill", "Noor", "Averill"),
    "director": ("sorrel", "Dr. Linnea", "Sorrel"),
}
ROLES = {"physician2": "physician"}
CREWS = {"crew": ("osk", "Jory", "Osk", UNITS[0]), "crew2": ("lund", "Bryn", "Lund", UNITS[1])}

RUN = "demonstration run"  # how the incident of each case begins that a simulated unit opens

# By role: who signs in by the demonstration's link, where they land, and what can be tried there.
LINKS = {
    "physician": (
        PEOPLE["physician"],
        "/board/",
        "watch all open cases, decide on requests, acknowledge alerts",
    ),
    "crew": (CREWS["crew"], "/crew/", "enter vitals, see what may be given, mix, record, request, read back"),
    "supervisor": (PEOPLE["supervisor"], "/history/", "step through past consults as they were seen, review them"),
    "director": (PEOPLE["director"], "/rules/", "read the rule set with its sources, adopt another"),
}


def make_accounts(now: datetime) -> dict[str, object]:
    """Make what is absent, and issue a further token for each; tokens in use stay valid (contract, "Commands")."""
    agency, other = accounts.make_agency(AGENCY), accounts.make_agency(OTHER_AGENCY, "conservative")
    for call_sign in UNITS:
        accounts.make_unit(agency, call_sign, CALLS[call_sign])
    made: dict[str, object] = {key: _crew(agency, *who, now) for key, who in CREWS.items()}
    made |= {key: _person(agency, ROLES.get(key, key), *who, now) for key, who in PEOPLE.items()}
    made["outsider"] = {
        "crew": _crew(other, "tarn", "Ebba", "Tarn", "Heron 3", now),
        "physician": _person(other, "physician", "vane", "Dr. Otis", "Vane", now),
    }
    return made


def password(username: str) -> str:
    """The demonstration password of an account on this installation."""
    key = hmac.new(settings.SECRET_KEY.encode(), f"demonstration {username}".encode(), hashlib.sha256).hexdigest()
    return "-".join((username, key[:4], key[4:8], key[8:12]))


def link_path(role: str) -> str:
    """Where the role signs in by a press, as long as this run of the demonstration lasts."""
    signed = hmac.new(settings.DEMONSTRATION_KEY.encode(), role.encode(), hashlib.sha256).hexdigest()
    return f"/demonstration/{role}/{signed[:32]}/"


def member_by_link(path: str) -> Membership:
    """Who signs in by this link; raises ``NotFound``, always where no demonstration runs."""
    role = next((each for each in LINKS if hmac.compare_digest(link_path(each).encode(), path.encode())), "")
    if not settings.DEMONSTRATION_KEY or not role:
        raise NotFound
    members = Membership.objects.filter(agency__name=AGENCY, role=role, ended_at=None, user__is_active=True)
    member = members.filter(user__username=LINKS[role][0][0]).select_related("user", "unit", "agency").first()
    if member is None:
        raise NotFound
    return member


def taken_over(actor: Actor, case: Case, now: datetime) -> bool:
    """Whether a person works this case in place of its simulated crew, which stands back once the journal says so.

    The first look at it on a crew's page takes it over; outside a demonstration there is nothing to take.
    """
    simulated = settings.DEMONSTRATION_KEY and case.incident.startswith(RUN)
    if not simulated or case.state != Case.State.OPEN:
        return False
    if not JournalEntry.objects.filter(case=case, kind=events.CaseTakenOver.kind).exists():
        with transaction.atomic():
            locked = access.case_for(actor, case.uid, lock=True)
            let_time_work(locked, now, events.CaseTakenOver(crew=actor.name))  # nobody has answered a query
        case.refresh_from_db()
    return True


def works_as(username: str, since: datetime) -> bool:
    """Whether a person has signed in as this member since, or had the board open: nobody else acts for them then."""
    members = Membership.objects.filter(agency__name=AGENCY, user__username=username)
    looks = LastLook.objects.filter(membership__in=members, at__gte=since)
    return looks.exists() or members.filter(user__last_login__gte=since).exists()


def _person(agency: Agency, role: str, username: str, first: str, last: str, now: datetime) -> dict[str, str]:
    secret = password(username)
    user = accounts.make_person(username, first, last, secret)
    member = accounts.make_member(agency, role, user=user)
    return {"username": username, "password": secret, "token": accounts.issue_token(member, now)}


def _crew(agency: Agency, username: str, first: str, last: str, call_sign: str, now: datetime) -> dict[str, str]:
    secret, unit = password(username), accounts.make_unit(agency, call_sign)
    user = accounts.make_person(username, first, last, secret)
    member = accounts.make_member(agency, Membership.Role.CREW, user=user, unit=unit)
    signed = {"username": username, "password": secret, "token": accounts.issue_token(member, now)}
    return {"unit": call_sign, "unit_id": str(unit.pk), **signed}


def make_devices(count: int, now: datetime) -> list[dict[str, str]]:
    """A device with a token of its own for each of the first `count` demonstration units."""
    agency = accounts.make_agency(AGENCY)
    names = [*UNITS, *(f"Osprey {number}" for number in range(1, count - len(UNITS) + 1))][:count]
    return [_device(agency, call_sign, now) for call_sign in names]


def _device(agency: Agency, call_sign: str, now: datetime) -> dict[str, str]:
    unit = accounts.make_unit(agency, call_sign)
    member = accounts.make_member(agency, Membership.Role.CREW, unit=unit, name=f"{call_sign} tablet")
    return {"call_sign": call_sign, "unit_id": str(unit.pk), "token": accounts.issue_token(member, now)}
