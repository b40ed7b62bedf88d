"""What a crew has in hand: it mixes a syringe before the first push and another when one is used up, and hangs bags."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from consult.simulation import treat
from consult.simulation.physiology import Body
from dosing.ground.facts import Amount

FILE = Path(__file__).with_name("kit.toml")
SECOND_PERSON = "second crew member"


@cache
def load() -> dict[str, dict[str, Any]]:
    """What is mixed or hung, by treatment; read once a process."""
    return tomllib.loads(FILE.read_text(encoding="utf-8"))


class Kit:
    """The syringes and bags of one transport, as far as a crew must know: how much is left of each treatment."""

    def __init__(self) -> None:
        self._left_ml: dict[str, float] = {}

    def mixed_for(self, treatment: str, amount: Amount, body: Body) -> dict[str, Any] | None:
        """The syringe to mix before this dose, None where one in hand still holds it; the dose is taken from it."""
        made = load().get(treatment)
        if made is None or "strength" not in made:
            return None
        dose = treat.in_unit(body, amount, made["strength"][1].removesuffix("/mL")) / made["strength"][0]
        return made if self._take(treatment, dose, made["volume"][0]) else None

    def hung_for(self, treatment: str, volume_ml: float) -> float | None:
        """The mL of the bag to hang: for an infusion always, for a fluid where none in hand still holds it."""
        made = load().get(treatment)
        if made is None or "strength" in made:
            return None
        full: float = made["volume"][0]
        return full if not volume_ml or self._take(treatment, volume_ml, full) else None

    def _take(self, treatment: str, volume_ml: float, full_ml: float) -> bool:
        """Draw a volume; whether a new one had to be begun for it."""
        left = self._left_ml.get(treatment, 0.0)
        new = left < volume_ml
        self._left_ml[treatment] = max(0.0, (full_ml if new else left) - volume_ml)
        return new


def entry_of(treatment: str, made: dict[str, Any], at: str) -> dict[str, Any]:
    """A mixed syringe as the API takes it."""
    amounts = {name: {"value": made[name][0], "unit": made[name][1]} for name in ("volume", "strength")}
    return {"at": at, "form": made["form"], "treatment": treatment, **amounts, "checked_by": SECOND_PERSON}
