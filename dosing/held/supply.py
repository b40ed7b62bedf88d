"""How long what is in hand lasts: what runs at its rate, pushes at the rate of the last of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from dosing.held.container_state import FORESEEN, ContainerState, minutes, span
from dosing.rules.rule_set import RuleSet, Treatment

Push = tuple[datetime, Fraction]


@dataclass(frozen=True, slots=True)
class Supply:
    """To when all that is in hand of a treatment lasts, reckoned ``since``; pushes are in use only for a while."""

    treatment: Treatment
    lasts_to: datetime
    since: datetime
    in_use_to: datetime | None = None


def in_use(every: Sequence[ContainerState], rules: RuleSet) -> None:
    """Let the newest syringe in hand of each pushed treatment run at the rate of its last pushes, wherever drawn."""
    for treatment, held in _by_treatment(every).items():
        in_hand = [each for each in held if each.container.discarded_at is None]
        use = use_of([push for each in held for push in each.draws], rules)
        if rules.treatments[treatment].form == "push" and in_hand and use is not None:
            newest = in_hand[-1]
            newest.left_at, newest.per_min = max(newest.left_at, use[0]), use[1]


def use_of(pushes: Iterable[Push], rules: RuleSet) -> Push | None:
    """When the last push was, and the mL a minute that the last few used; None for one that stands alone."""
    rule, run = rules.ledger, list[Push]()
    for push in sorted(pushes, reverse=True)[: int(rule.pushes_for_rate)]:
        if run and run[-1][0] - push[0] > timedelta(minutes=rule.push_lasts_min):
            break
        run.append(push)
    if len(run) < 2 or run[0][0] == run[-1][0]:
        return None
    used = sum((volume for _, volume in run[:-1]), Fraction(0))  # the first of them began the time that is measured
    return run[0][0], used / minutes(run[0][0] - run[-1][0])


def supplies(in_hand: Sequence[ContainerState], rules: RuleSet) -> list[Supply]:
    """The treatments that run, or are pushed at a rate, and to when they last; none that lasts longer than a day."""
    found = (_supply(rules.treatments[slug], held, rules) for slug, held in _by_treatment(in_hand).items())
    return [each for each in found if each is not None]


def _supply(treatment: Treatment, held: Sequence[ContainerState], rules: RuleSet) -> Supply | None:
    using = [each for each in held if each.per_min and each.until is None]
    if not using:
        return None
    since, left = min(each.left_at for each in using), sum((each.left for each in held), Fraction(0))
    if treatment.form != "push":
        ends = [each.lasts_to for each in using]
        return None if None in ends else Supply(treatment, max(end for end in ends if end), since)
    per_min = using[-1].per_min
    if left > per_min * minutes(FORESEEN):
        return None
    return Supply(
        treatment, since + span(left / per_min), since, since + timedelta(minutes=rules.ledger.push_lasts_min)
    )


def _by_treatment(every: Iterable[ContainerState]) -> dict[str, list[ContainerState]]:
    found: dict[str, list[ContainerState]] = {}
    for each in every:
        if each.treatment is not None:
            found.setdefault(each.treatment.slug, []).append(each)
    return found
