"""From where a push is drawn: the strengths in hand, and a new syringe by the recipe, of which one holds for a page.

While all that is in hand is of the recipe's strength there is nothing to choose.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import msgspec

from consult.render.in_hand import ready
from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.ground.text import amount_text
from dosing.ground.units import Quantity
from dosing.mix import stock
from dosing.rules.rule_set import Recipe, Treatment

Row = Mapping[str, Any]


class Place(msgspec.Struct, kw_only=True):
    """One strength to draw from, with its syringes that are ready, newest first; `new` where the recipe makes it.

    ``beside`` are the ids of what is in hand of another strength, ``sent`` what an entry says of it, as JSON by name.
    """

    strength: Amount
    syringes: list[Row]
    new: bool
    beside: list[str]

    @property
    def key(self) -> str:
        """How an address names it."""
        return f"{self.strength.value:g} {self.strength.unit}"

    @property
    def text(self) -> str:
        """The strength as people read it."""
        return amount_text(self.strength)

    @property
    def left(self) -> str:
        """What is left in its newest syringe."""
        return str(self.syringes[0]["left_text"]) if self.syringes else ""

    @property
    def sent(self) -> dict[str, str]:
        """What a proposal says of it: the strength of the recipe, else the very syringe."""
        return {"stock": self.key} if self.new else {"container": self.syringes[0]["id"]}


def places(held: Sequence[Row], treatment: Treatment, order: Row | None, now: datetime) -> list[Place]:
    """Where a dose may be drawn from: in hand as ordered, else as the recipe's, first; a new one last."""
    recipe = treatment.recipe
    syringes = [each for each in reversed(held) if each["form"] == "syringe" and each.get("strength")]
    if recipe is None or all(_alike(each, recipe.makes.exact) for each in syringes):
        return []
    found: list[Place] = []
    for amount in [recipe.makes.amount, *(Amount(**each["strength"]) for each in syringes)]:
        exact = units.quantity(amount)
        if not any(stock.alike(units.quantity(place.strength), exact) for place in found):
            found.append(_place(amount, syringes, recipe, now))
    wanted = _wanted(order, recipe)
    fits = [stock.alike(units.quantity(place.strength), wanted) for place in found]
    ranked = sorted(zip(found, fits, strict=True), key=lambda each: (not each[0].syringes, not each[1]))
    return [place for place, _ in ranked if place.new or place.syringes]


def _place(amount: Amount, syringes: list[Row], recipe: Recipe, now: datetime) -> Place:
    exact = units.quantity(amount)
    return Place(
        strength=amount,
        syringes=[each for each in syringes if _alike(each, exact) and ready(each, now)],
        new=stock.alike(exact, recipe.makes.exact),
        beside=[each["id"] for each in syringes if not _alike(each, exact)],
    )


def _alike(line: Row, exact: Quantity) -> bool:
    return stock.alike(units.quantity(Amount(**line["strength"])), exact)


def _wanted(order: Row | None, recipe: Recipe) -> Quantity:
    """The strength that was read back from a label, else the recipe's."""
    said = (((order or {}).get("read_back") or {}).get("said") or {}).get("strength")
    return units.quantity(Amount(**said)) if said else recipe.makes.exact
