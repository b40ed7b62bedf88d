"""What of a check is news to whoever ordered the dose: an order covers what its physician saw, and nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar

from dosing.check.dosage import Proposed
from dosing.check.findings import BEYOND, Finding
from dosing.ground.amounts import Amount
from dosing.ground.facts import Order
from dosing.ground.language import gettext as _
from dosing.ground.text import clock

NAMES_ITS_CAUSE = ("allergy", "history", "care_limits", "contraindicated", "starts_by_order")  # in fixed words
# What the doses of the order itself bring about: so many, so soon, were ordered.
BY_ITS_OWN = ("count_reached", "total_reached", "too_soon")
BY_ITS_STEPS = ("above_most", "leap")  # up to its maximum, step by step
ROUNDED = 1.01  # how many times lower a limit may be and still be the one that was seen: common practice, no source


class Told(Protocol):
    """A finding as far as it is compared: what it is, in which words, with which limit."""

    @property
    def code(self) -> str:
        """What it is."""

    @property
    def text(self) -> str:
        """Its words."""

    @property
    def limit(self) -> Amount | None:
        """The limit that is passed."""


class Graded(Told, Protocol):
    """A finding with its level."""

    @property
    def level(self) -> str:
        """How grave it is."""


F = TypeVar("F", bound=Graded)


def news(found: Iterable[F], seen: Iterable[Told]) -> list[F]:
    """The findings beyond a crew's standing limits of which nothing like them was seen."""
    known = list(seen)
    return [each for each in found if each.level in BEYOND and not any(alike(each, one) for one in known)]


def alike(found: Told, seen: Told) -> bool:
    """Whether both say the same of the patient; a number that moves is no news, a limit that is lower now is."""
    return found.code == seen.code and _cause(found) == _cause(seen) and not _lower(found.limit, seen.limit)


def _cause(told: Told) -> str:
    """What it is about, where one code tells of several things: which allergy, which sign."""
    if told.code in NAMES_ITS_CAUSE or (told.code == "pressure_unknown" and not _too_old(told)):
        return told.text
    return told.text.partition(" (")[0] if told.code == "signs_missing" else ""


def _too_old(told: Told) -> bool:
    """Whether a pressure is unknown because none is fresh enough, not because none could be obtained."""
    return told.limit is not None


def _lower(now: Amount | None, then: Amount | None) -> bool:
    return bool(now and then and now.unit == then.unit and now.value * ROUNDED < then.value)


def is_news(finding: Finding, asked: Proposed, order: Order) -> bool:
    """Whether a finding arose only after the order was decided.

    A pressure that was fresh then and is old by now, or from before a dose, is none: it says nothing new of the
    patient, and is asked for besides.
    """
    own = order.given > 0 and finding.code in BY_ITS_OWN
    steps = order.titrate is not None and asked.question.new_rate and finding.code in BY_ITS_STEPS
    aged = finding.code == "no_pressure_since_last_dose" or (finding.code == "pressure_unknown" and _too_old(finding))
    return order.seen is not None and not (own or steps or aged) and bool(news([finding], order.seen))


def told(finding: Finding, order: Order) -> str:
    """``allergy on record: …; known only after Dr. Merrin ordered this at 12:01 UTC``."""
    by = order.by or _("the physician")
    if order.decided_at is None:
        return _("{finding}; known only after {by} ordered this", finding=finding.text, by=by)
    time = clock(order.decided_at)
    return _("{finding}; known only after {by} ordered this at {time}", finding=finding.text, by=by, time=time)
