"""The ledger of what is in hand: what is left, for how many doses, when it must be discarded, what is wrong with it."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct, structs

from dosing.check.case import Question, bedside
from dosing.ground import text, units
from dosing.ground.facts import Amount, Container, Dose, Facts
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.ground.units import Quantity
from dosing.held import draws, earlier_draws, supply
from dosing.held.container_state import ContainerState
from dosing.mix import stock
from dosing.rules.rule_set import RuleSet, Treatment

FLUIDS = frozenset({"fluid", "blood"})


def is_fluid(treatment: Treatment) -> bool:
    """Whether the treatment is a fluid or blood: its bag holds the thing itself, at no strength."""
    return treatment.drug_class in FLUIDS


def can_hold(treatment: Treatment, strength: Amount) -> bool:
    """Whether a strength is one of this treatment: mass per mL for what is dosed by mass, and so on."""
    return units.kind(strength.unit).removesuffix("/volume") == units.kind(treatment.unit).split("/")[0]


def form_of(volume: Amount, rules: RuleSet) -> str:
    """What an infusion of this volume runs from: a syringe up to the largest that is made, else a bag."""
    largest = units.quantity(Amount(rules.ledger.largest_syringe_ml, "mL"))
    return "syringe" if units.quantity(volume) <= largest else "bag"


def holdings(facts: Facts, rules: RuleSet) -> list[ContainerState]:
    """What is in hand, oldest first; what was discarded has had its share of the doses and is left out."""
    every = earlier_draws.begun(facts.containers, facts.earlier, rules)
    liquids = [each for each in every if each.container.cylinder is None]
    for dose in sorted(facts.doses, key=lambda each: each.given_at):
        earlier_draws.draw(dose, liquids, rules)
    draws.breathe([each for each in every if each.container.cylinder is not None], facts.oxygen)
    supply.in_use(every, rules)
    return [each for each in every if each.container.discarded_at is None]


def left_for_more(facts: Facts, rules: RuleSet, treatment: Treatment) -> float | None:
    """The mL that a further dose of a fluid finds in its newest bag once what runs is in; None where none was hung."""
    if not is_fluid(treatment) or all(each.treatment != treatment.slug for each in facts.containers):
        return None
    in_hand = [each for each in holdings(facts, rules) if each.container.treatment == treatment.slug]
    return float(in_hand[-1].left_at_end) if in_hand else 0.0


def worth_showing(held: ContainerState, in_hand: list[ContainerState]) -> bool:
    """Whether it belongs on the list: not what is used up, once there is another or where it was a bag of fluid."""
    if held.left or held.drawn > held.volume or held.per_min:
        return True
    later = in_hand[in_hand.index(held) + 1 :]
    fluid = held.treatment is not None and is_fluid(held.treatment)
    return not fluid and all(each.container.treatment != held.container.treatment for each in later)


def discard_at(container: Container, facts: Facts, rules: RuleSet) -> datetime | None:
    """When what was mixed must be discarded: hours after it was, or at the handover; None for what was not mixed."""
    if container.strength is None:
        return None
    latest = container.at + timedelta(hours=rules.ledger.discard_after_h)
    return latest if facts.ended_at is None else min(latest, facts.ended_at)


class DosesLeft(Struct, frozen=True):
    """How many doses are left, from ``fewest`` of ``most`` each to as many of ``least`` each; ``last``: as the last."""

    fewest: int
    many: int
    least: Amount
    most: Amount
    last: bool = False


def doses_left(held: ContainerState, facts: Facts, rules: RuleSet) -> DosesLeft | None:
    """The doses that what is left holds: as large as the last one, before any by the standing limits of this patient.

    Limits that move with the pressure are left out: a list that changes with each reading says nothing.
    """
    treatment = held.treatment
    if treatment is None or treatment.form == "infusion" or is_fluid(treatment) or held.container.strength is None:
        return None
    given = [each for each in facts.doses if each.treatment == treatment.slug and each.amount and not each.prior]
    if given:
        return _as_the_last(max(given, key=lambda each: each.given_at), held)
    question = Question(bedside=bedside(structs.replace(facts, readings=()), rules, held.left_at), treatment=treatment)
    return _by_limits(question.limits.exact("least"), question.limits.exact("most"), treatment, held)


def _as_the_last(dose: Dose, held: ContainerState) -> DosesLeft | None:
    volume = None if dose.amount is None else draws.volume_of(dose.amount, held, dose.weight)
    if not volume or dose.amount is None:
        return None
    count = int(held.left / volume)
    return DosesLeft(count, count, dose.amount, dose.amount, last=True)


def _by_limits(
    least: Quantity | None, most: Quantity | None, treatment: Treatment, held: ContainerState
) -> DosesLeft | None:
    """A least never above the most, as at a very small weight."""
    if most is None or units.is_per_kg(most):
        return None
    low = most if least is None or units.is_per_kg(least) or least > most else least
    small, large = draws.in_ml(low, held.container.strength), draws.in_ml(most, held.container.strength)
    if not small or not large:
        return None
    unit = treatment.unit.replace("/kg", "")
    return DosesLeft(int(held.left / large), int(held.left / small), units.amount(low, unit), units.amount(most, unit))


def note(held: ContainerState) -> str:
    """What is wrong with it, in words: more drawn than was in it, a strength that no recipe makes; else nothing."""
    drawn, volume = Amount(float(held.drawn), "mL"), Amount(float(held.volume), "mL")
    if held.drawn > held.volume:
        told = {"shown": _(" of a ").join(text.apart_text(drawn, volume)), "form": words(held.container.form)}
        if held.treatment is not None and is_fluid(held.treatment):  # what hangs next is easily left untold
            return _("drawn {shown} {form}: record the new {form}, or mark a dose entered twice", **told)
        return _("drawn {shown} {form}: a dose is double or missing", **told)
    return _strength_note(held)


def _strength_note(held: ContainerState) -> str:
    treatment, strength = held.treatment, held.container.strength
    if treatment is None or strength is None:
        return ""
    made = (treatment.recipe.makes,) if treatment.recipe else treatment.concentrations or treatment.stocks
    if not made or any(stock.alike(units.quantity(strength), each.exact) for each in made):
        return ""
    usual = (
        _("usual {amount}", amount=text.amount_text(made[0].amount)) if len(made) == 1 else _("not a usual strength")
    )
    return _("{strength} in hand, {usual}", strength=text.amount_text(strength), usual=usual)
