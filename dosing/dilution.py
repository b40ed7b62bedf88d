"""Preparing a push dose: what the syringe holds after each step, and which strength is in the hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from dosing import text, units
from dosing.facts import Amount
from dosing.rule_set import Recipe, Step, Strength, Treatment
from dosing.units import Quantity

ROUNDED = Fraction(1, 100)  # strengths are stated rounded: 9.09, or 99 for what is called 100
TEN_FOLD = 10


@dataclass(frozen=True, slots=True)
class Held:
    """What the syringe holds: a volume, the drug in it (None: none yet) and so its strength."""

    volume: Quantity
    drug: Quantity | None = None

    @property
    def strength(self) -> Quantity | None:
        """Drug per mL, None while there is no drug."""
        return None if self.drug is None else self.drug / self.volume

    def text(self) -> str:
        """``holds 10 mL, 100 mcg: 10 mcg per mL``."""
        volume = text.amount_text(units.amount(self.volume, "mL"))
        if self.drug is None or self.strength is None:
            return f"holds {volume}, no drug"
        drug = text.amount_text(units.amount(self.drug, "mcg"))
        return f"holds {volume}, {drug}: {strength_text(self.strength)}"


def contents(steps: Iterable[Step]) -> list[Held]:
    """What the syringe holds after each step; raises ValueError where more is expelled than is there."""
    held: list[Held] = []
    now: Held | None = None
    for step in steps:
        if step.action == "add":
            now = _added(now, step)
        elif step.action == "expel":
            now = _expelled(now, step)
        if now is None:
            raise ValueError("the first step must fill the syringe")
        held.append(now)
    if not held:
        raise ValueError("a recipe needs steps")
    return held


def _added(now: Held | None, step: Step) -> Held:
    if step.volume is None:
        raise ValueError(f"no volume is said: {step.text}")
    volume = units.quantity(step.volume)
    drug = None if step.strength is None else units.quantity(step.strength) * volume
    if now is None:
        return Held(volume, drug)
    both = [part for part in (now.drug, drug) if part is not None]
    return Held(now.volume + volume, sum(both[1:], both[0]) if both else None)


def _expelled(now: Held | None, step: Step) -> Held:
    if now is None or step.volume is None or units.quantity(step.volume) >= now.volume:
        raise ValueError(f"more is expelled than the syringe holds: {step.text}")
    volume = now.volume - units.quantity(step.volume)
    return Held(volume, None if now.drug is None else now.drug * (volume / now.volume).magnitude)


def strength_text(strength: Quantity, unit: str = "mcg/mL") -> str:
    """A strength as a label says it: ``10 mcg per mL``."""
    return text.amount_text(units.amount(strength, unit))


def steps_text(recipe: Recipe) -> list[str]:
    """The recipe step by step, each with what the syringe holds after it; a second way follows, marked as one."""
    lines: list[str] = []
    for number, (name, steps) in enumerate(recipe.ways.items()):
        if number:
            lines.append(f"Or, {name}:")
        lines += [_step_text(step, held) for step, held in zip(steps, contents(steps), strict=True)]
    return lines + [note.text for note in recipe.notes]


def _step_text(step: Step, held: Held) -> str:
    return step.text if step.action == "do" else f"{step.text} ({held.text()})"


def made_from(recipe: Recipe, stock: Quantity) -> Quantity | None:
    """The strength that the first way of the recipe makes if ``stock`` is drawn up in place of the right one."""
    first = next(iter(recipe.ways.values()))
    made = contents(first)[-1].strength
    return None if made is None else made * (stock / recipe.stock.exact).magnitude


@dataclass(frozen=True, slots=True)
class InHand:
    """A strength recognised: ``kind`` is ``stock``, ``prepared``, ``undrained``, ``stronger`` or ``unlisted``.

    ``strength`` is that of what goes into the patient, None where it must not be given.
    """

    kind: str
    strength: Quantity | None


def recognise(treatment: Treatment, stock: Quantity) -> InHand:
    """Which strength is in the hand: the vial of the recipe, the prepared syringe, a slip, or one not on the list."""
    recipe = treatment.recipe
    if recipe is None:
        return _vial(treatment.stocks, stock)
    if stock == recipe.stock.exact:
        return InHand("stock", recipe.makes.exact)
    if stock > recipe.stock.exact:
        return InHand("stronger", None)
    if stock == recipe.makes.exact or (recipe.nominal and _near(stock, recipe.makes.exact)):
        return InHand("prepared", recipe.makes.exact)
    if not recipe.nominal and _near(stock, undrained(recipe)):
        return InHand("undrained", undrained(recipe))
    return InHand("unlisted", stock)


def _near(one: Quantity, other: Quantity) -> bool:
    return bool(abs((one / other).magnitude - 1) <= ROUNDED)


def _vial(listed: tuple[Strength, ...], stock: Quantity) -> InHand:
    if any(stock == strength.exact for strength in listed):
        return InHand("stock", stock)
    strongest = max((strength.exact for strength in listed), default=None)
    if strongest is not None and stock >= TEN_FOLD * strongest:
        return InHand("stronger", None)
    return InHand("unlisted", stock)


def undrained(recipe: Recipe) -> Quantity:
    """The strength of a syringe that was filled up without making room first: 1 mL on top of a full 10 mL."""
    steps = next(iter(recipe.ways.values()))
    drug = sum_of(steps, with_drug=True)
    full = sum_of(steps, with_drug=False) + drug
    strength: Quantity = recipe.stock.exact * (drug / (full + drug)).magnitude
    return strength


def sum_of(steps: Iterable[Step], *, with_drug: bool) -> Quantity:
    """The volume that the steps add, of drug or of diluent."""
    parts = [
        units.quantity(step.volume)
        for step in steps
        if step.action == "add" and step.volume is not None and (step.strength is not None) == with_drug
    ]
    total: Quantity = sum(parts[1:], parts[0])
    return total


def amount_in_hand(treatment: Treatment, strength: Amount, volume: Amount) -> Amount:
    """The dose in a volume of a strength, in the treatment's unit; raises WrongUnit where it is of another kind."""
    dose = units.quantity(strength) * units.quantity(volume)
    return units.amount(dose, treatment.unit)
