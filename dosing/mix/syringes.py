"""Which syringe reads a volume: a 1 mL reads to 0.01 mL, a 3 mL to 0.1 mL, a 10 mL to 0.2 mL, by the rule set."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache

from dosing.ground.exact import as_written
from dosing.ground.facts import Amount
from dosing.rules.rule_set import Figure, RuleSet


def smallest(volumes: Iterable[Fraction], rules: RuleSet) -> Amount | None:
    """The smallest syringe that holds and reads each of the volumes (mL); None where none does."""
    wanted = list(volumes)
    for holds, reads in by_size(rules):
        if all(volume <= _exact(holds) and reads_exactly(volume, reads) for volume in wanted):
            return Amount(holds.value, "mL")
    return None


def holding(volume: Fraction, rules: RuleSet) -> tuple[Figure, Figure] | None:
    """The smallest syringe that holds the volume (mL), with what it reads to; None where none is large enough."""
    return next((pair for pair in by_size(rules) if volume <= _exact(pair[0])), None)


def neighbors(volume: Fraction, holds: Figure, reads: Figure) -> list[Fraction]:
    """The two marks (mL) between which the volume lies, without zero and what lies beyond the syringe."""
    mark = _exact(reads)
    below = volume // mark * mark
    return [each for each in (below, below + mark) if 0 < each <= _exact(holds)]


# Asked for each amount that is offered.
@lru_cache(maxsize=32)
def by_size(rules: RuleSet) -> tuple[tuple[Figure, Figure], ...]:
    """The syringes of the rule set, smallest first."""
    return tuple(sorted(((each.holds, each.reads) for each in rules.syringes), key=lambda pair: pair[0].value))


@lru_cache(maxsize=32)
def finest_mark(rules: RuleSet) -> Fraction:
    """The smallest volume that any syringe of the rule set shows, in mL."""
    return min(_exact(reads) for _, reads in by_size(rules))


def reads_exactly(volume: Fraction, reads: Figure) -> bool:
    """Whether the volume (mL) falls on a mark."""
    return (volume / _exact(reads)).denominator == 1


def _exact(figure: Figure) -> Fraction:
    return as_written(figure.value)
