"""Who is acting, and which roles may do what: each refusal on its own line."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from consult import problems
from consult.models import Membership
from dosing.ground.language import gettext as _

PHYSICIANS = (Membership.Role.PHYSICIAN, Membership.Role.DIRECTOR)  # who decide
LOOKING_BACK = (Membership.Role.SUPERVISOR, Membership.Role.DIRECTOR)


@dataclass(frozen=True, slots=True)
class Actor:
    """Who is acting, as one membership: a person signed in, or a device by its token; `zone` is for pages."""

    membership: UUID
    agency: UUID
    role: str
    unit: UUID | None
    name: str
    user_id: UUID | None = None
    token: UUID | None = None
    zone: str = "UTC"

    is_authenticated = True

    @property
    def is_crew(self) -> bool:
        """A unit's crew or its device."""
        return self.role == Membership.Role.CREW

    @property
    def is_physician(self) -> bool:
        """May decide: a physician, or the medical director, who is one besides."""
        return self.role in PHYSICIANS

    @property
    def is_supervisor(self) -> bool:
        """May look back: a supervisor or the medical director."""
        return self.role in LOOKING_BACK


def require_crew(actor: Actor) -> None:
    """Refuse everybody but a crew."""
    if not actor.is_crew:
        raise problems.Forbidden(_("Only the unit's crew can do this."))


def require_physician(actor: Actor) -> None:
    """Refuse everybody but physicians."""
    if not actor.is_physician:
        raise problems.Forbidden(_("Only a physician can do this."))


def require_director(actor: Actor) -> None:
    """Refuse everybody but the medical director."""
    if actor.role != Membership.Role.DIRECTOR:
        raise problems.Forbidden(_("Only the medical director can do this."))


def require_supervisor(actor: Actor) -> None:
    """Refuse everybody but supervisors and directors."""
    if not actor.is_supervisor:
        raise problems.Forbidden(_("Only a supervisor or the medical director can do this."))


def require_writer(actor: Actor) -> None:
    """Refuse those who only look on: crews and physicians write to a case."""
    if not (actor.is_crew or actor.is_physician):
        raise problems.Forbidden(_("Only the crew and physicians can write to a case."))


def require_watcher(actor: Actor) -> None:
    """Refuse crews: physicians and supervisors answer alerts."""
    if actor.is_crew:
        raise problems.Forbidden(_("Only physicians and supervisors can do this."))
