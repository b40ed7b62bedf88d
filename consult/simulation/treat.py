"""What a treatment does to a simulated body: amounts in any unit of the API become drug levels and running fluids."""

from __future__ import annotations

from consult.simulation import effects
from consult.simulation.physiology import Body, Compartment, Pour
from dosing.ground import units
from dosing.ground.facts import Amount

OPEN_LINE_ML_MIN = 60.0
BLOOD_OVER_MIN = 10.0


def give(body: Body, treatment: str, amount: Amount, over_min: float | None = None) -> None:
    """Give one dose, fluid or bag; a treatment that the model does not know changes nothing."""
    numbers = effects.load()
    if treatment == "crystalloid-bolus":
        _pour(body, in_unit(body, amount, "mL"), over_min, blood=False)
    elif treatment == "blood-product":
        bag = numbers.body["bag_of_blood_ml"]
        volume = amount.value * bag if amount.unit == "bag" else in_unit(body, amount, "mL")
        _pour(body, volume, over_min or BLOOD_OVER_MIN, blood=True)
    elif treatment in numbers.drugs:
        compartment = body.drugs.setdefault(treatment, Compartment())
        compartment.waiting += in_unit(body, amount, numbers.drugs[treatment].unit)
    elif treatment in numbers.clotting:
        clotting = numbers.clotting[treatment]
        part = min(in_unit(body, amount, clotting.unit) / (clotting.full_dose_per_kg * body.nature.weight_kg), 1.0)
        body.bleeding_ml_min *= 1 - part * (1 - clotting.bleeding_left)
    elif treatment == "dextrose":
        body.glucose_mg_dl += in_unit(body, amount, "g") / body.nature.weight_kg * 350


def run(body: Body, treatment: str, rate: Amount, concentration: Amount | None = None) -> None:
    """Start an infusion or set its rate; a rate of zero or ``stop`` ends it. mL/h wants the concentration."""
    drug = effects.load().drugs.get(treatment)
    if drug is None:
        return
    per_min = in_unit(body, rate, f"{drug.unit}/min", concentration)
    body.drugs.setdefault(treatment, Compartment()).per_min = per_min


def stop(body: Body, treatment: str) -> None:
    """End an infusion, or every fluid that still runs."""
    if treatment in body.drugs:
        body.drugs[treatment].per_min = 0.0
    elif treatment in ("crystalloid-bolus", "blood-product"):
        body.pours = [pour for pour in body.pours if pour.blood != (treatment == "blood-product")]


def in_unit(body: Body, amount: Amount, unit: str, concentration: Amount | None = None) -> float:
    """What ``amount`` is in ``unit`` for this body: amounts per kg times its weight, volumes times the strength."""
    value = units.quantity(amount)
    if "/kg" in amount.unit:
        value = value * units.quantity(Amount(body.nature.weight_kg, "kg"))
    if concentration is not None and amount.unit.startswith(("mL", "L")):
        value = value * units.quantity(concentration)
    return units.amount(value, unit).value


def _pour(body: Body, volume_ml: float, over_min: float | None, *, blood: bool) -> None:
    minutes = over_min or volume_ml / OPEN_LINE_ML_MIN
    body.pours.append(Pour(left_ml=volume_ml, ml_per_s=volume_ml / (minutes * 60), blood=blood))
