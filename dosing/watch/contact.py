"""A unit that is silent: unannounced it is news, and a reading that it may have taken is unknown, not missing."""

from __future__ import annotations

from datetime import datetime, timedelta

from dosing.ground.facts import Reassessment
from dosing.ground.language import gettext as _
from dosing.watch.look import MEDIUM, Look, clock


def contact(look: Look) -> None:
    """Nothing heard for too long, and no gap in coverage announced that is not over yet."""
    lost_at = max(lost_contact_at(look), silent_until(look) or lost_contact_at(look))
    if look.passed(lost_at):
        look.stands(
            "no_contact",
            "contact",
            MEDIUM,
            _("No data from unit since {last_contact}", last_contact=clock(last_contact(look))),
            lost_at,
        )


def is_out_of_reach(look: Look, reassessment: Reassessment) -> bool:
    """Whether nothing came since the reading was due and nothing can: contact is lost, or coverage is said to be."""
    announced = silent_until(look)
    gap = announced is not None and not look.passed(announced)
    return last_contact(look) <= reassessment.due_at and (gap or lost_contact_at(look) <= look.now)


def silent_until(look: Look) -> datetime | None:
    """Until when the crew said that it cannot be heard; None once it was heard after some silence: coverage is back."""
    back_from = look.facts.coverage_back_from
    return None if back_from and last_contact(look) >= back_from else look.facts.no_coverage_until


def last_contact(look: Look) -> datetime:
    """When the unit was last heard; else since when it could have been."""
    return look.facts.last_contact_at or look.facts.opened_at


def lost_contact_at(look: Look) -> datetime:
    """From when on the silence is too long."""
    return last_contact(look) + timedelta(minutes=look.rules.watch.no_contact_min)
