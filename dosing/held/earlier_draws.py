"""What the doses of a long case that are only added up drew from each syringe and bag."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from msgspec.structs import replace

from dosing.check.earlier import with_given
from dosing.ground.facts import Container, Dose
from dosing.ground.given_before import DrawnBefore, Earlier
from dosing.held import draws
from dosing.held.container_state import ContainerState, as_filled
from dosing.rules.rule_set import RuleSet


def with_doses(earlier: Earlier, doses: Sequence[Dose], containers: Iterable[Container], rules: RuleSet) -> Earlier:
    """With these doses added up too, oldest first, and with what they drew from the containers."""
    liquids, few = (each for each in containers if each.cylinder is None), int(rules.ledger.pushes_for_rate)
    every = begun(liquids, earlier, rules)
    for dose in doses:
        draw(dose, every, rules)
    drawn = {each.container.id: _drawn(each, few) for each in every if each.drawn}
    return replace(earlier, given=with_given(earlier.given, doses, rules), drawn={**earlier.drawn, **drawn})


def begun(containers: Iterable[Container], earlier: Earlier, rules: RuleSet) -> list[ContainerState]:
    """Each container, oldest first, with what was drawn from it by what is only added up."""
    every = [as_filled(each, rules) for each in sorted(containers, key=lambda each: each.at)]
    for each in every:
        if before := earlier.drawn.get(each.container.id):
            each.drawn, each.left_at = Fraction(before.volume), before.left_at
            each.draws = [(at, Fraction(volume)) for at, volume in before.draws]
    return every


def draw(dose: Dose, liquids: Sequence[ContainerState], rules: RuleSet) -> None:
    """Let a dose draw from these; what others gave before was theirs."""
    treatment = rules.treatments.get(dose.treatment)
    if treatment is not None and not dose.prior and liquids:
        draws.draw(dose, treatment, liquids)


def _drawn(each: ContainerState, few: int) -> DrawnBefore:
    newest = tuple((at, str(volume)) for at, volume in sorted(each.draws)[-few:])
    return DrawnBefore(str(each.drawn), each.left_at, newest)
