"""What is in hand in the tests of the ledger: syringes, bags and cylinders, and doses by the minute after ten."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from dosing.ground.facts import Amount, Container, Cylinder, Dose, Facts, OxygenFlow, Rate, Weight
from dosing.held import ledger
from dosing.held.container_state import ContainerState
from tests.dosing.bedside import RULES, TEN, adult

PUSH, DRIP, BOLUS = "epinephrine-push-dose", "norepinephrine-infusion", "crystalloid-bolus"
TEN_MCG, SIXTEEN = Amount(10, "mcg/mL"), Amount(16, "mcg/mL")


def at(minutes: float) -> datetime:
    """A moment so many minutes after ten o'clock."""
    return TEN + timedelta(minutes=minutes)


def syringe(minutes: float = 0, ml: float = 10, name: str = "syringe", **more: Any) -> Container:
    known = {"id": name, "form": "syringe", "treatment": PUSH, "strength": TEN_MCG, "volume": Amount(ml, "mL")}
    return Container(**{**known, "at": at(minutes), **more})


def bag(minutes: float = 0, ml: float = 250, name: str = "bag", **more: Any) -> Container:
    return syringe(minutes, ml, name, **({"form": "bag", "treatment": DRIP, "strength": SIXTEEN} | more))


def cylinder(minutes: float = 0, psi: float = 1200, name: str = "cylinder") -> Container:
    gas = Cylinder(size="E", pressure=Amount(psi, "psi"))
    return Container(id=name, form="cylinder", at=at(minutes), cylinder=gas)


def push(minutes: float, mcg: float = 10, **more: Any) -> Dose:
    known = {"id": f"push {minutes}", "treatment": PUSH, "given_at": at(minutes), "amount": Amount(mcg, "mcg")}
    return Dose(**{**known, **more})


def drip(*rates: tuple[float, float, str], name: str = "drip", kg: float | None = 80, **more: Any) -> Dose:
    """An infusion by its rates, each from a minute on."""
    weight = None if kg is None else Weight(kg)
    steps = tuple(Rate(at(minute), Amount(value, unit), weight) for minute, value, unit in rates)
    known = {"treatment": DRIP, "status": "running", "concentration": SIXTEEN, "rates": steps}
    return Dose(**{"id": name, "given_at": steps[0].at, "amount": steps[-1].amount, **known, **more})


def bolus(minutes: float, ml: float, name: str = "bolus", **more: Any) -> Dose:
    return Dose(id=name, treatment=BOLUS, given_at=at(minutes), amount=Amount(ml, "mL"), **more)


def flow(minutes: float, l_min: float) -> OxygenFlow:
    return OxygenFlow(at(minutes), l_min)


def facts(*containers: Container, doses: tuple[Dose, ...] = (), **more: Any) -> Facts:
    known = {"patient": adult(), "opened_at": at(-30), "last_contact_at": at(0)}
    return Facts(**{**known, "containers": containers, "doses": doses, **more})


def held(*containers: Container, doses: tuple[Dose, ...] = (), **more: Any) -> dict[str, ContainerState]:
    """What is in hand, by its name."""
    return {each.container.id: each for each in ledger.holdings(facts(*containers, doses=doses, **more), RULES)}


def doses_left(one: Container, *doses: Dose, **more: Any) -> ledger.DosesLeft | None:
    """The doses that are left in it."""
    known = facts(one, doses=doses, **more)
    return ledger.doses_left(ledger.holdings(known, RULES)[0], known, RULES)


def shown(*containers: Container, doses: tuple[Dose, ...] = ()) -> list[str]:
    """The names of those that stand on the list."""
    in_hand = ledger.holdings(facts(*containers, doses=doses), RULES)
    return [each.container.id for each in in_hand if ledger.worth_showing(each, in_hand)]


def left(*containers: Container, doses: tuple[Dose, ...] = (), **more: Any) -> dict[str, float]:
    """The mL, or liters, left in each."""
    return {name: float(each.left) for name, each in held(*containers, doses=doses, **more).items()}
