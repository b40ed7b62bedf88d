"""How long the rules take: one check of each treatment, and the guidance for all of them; medians of several rounds.

`.venv/bin/python -m tests.bench.rules` needs neither database nor network. Limits: a check 1.5 ms, guidance 20 ms.
Each guidance is that of somebody else, a gram heavier, so that nothing which is kept of one patient makes it quicker.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from statistics import median
from time import perf_counter, process_time

from msgspec import structs

from dosing.check import limits
from dosing.ground.facts import Age, Amount, Dose, Facts, Latest, Patient, Proposal, Reading, Weight
from dosing.load import reader
from dosing.tell import guidance

TEN = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)
RULES = reader.load_shipped("demonstration")
LIMITS_MS = {"check": 1.5, "guidance": 20.0}
READINGS, PUSHES = 60, 8


def busy_case(patient: Patient) -> Facts:
    """A case as full as a card keeps it: 60 readings, fluid, pushes, an infusion that runs."""
    readings = tuple(
        Reading(taken_at=TEN - timedelta(minutes=number), sbp=70 + number % 9, dbp=40, hr=120)
        for number in reversed(range(READINGS))
    )
    pushes = tuple(
        Dose(
            id=f"push {number}",
            treatment="epinephrine-push-dose",
            given_at=TEN - timedelta(minutes=3 * number),
            amount=Amount(5, "mcg"),
        )
        for number in range(1, PUSHES + 1)
    )
    infusion = Dose(
        id="infusion",
        treatment="norepinephrine-infusion",
        given_at=TEN - timedelta(minutes=20),
        amount=Amount(0.05, "mcg/kg/min"),
        status="running",
    )
    fluid = Dose(
        id="fluid", treatment="crystalloid-bolus", given_at=TEN - timedelta(minutes=40), amount=Amount(360, "mL")
    )
    signs = {"lungs": "clear", "hr": 120, "rr": 22, "glucose_mg_dl": 90}
    return Facts(
        patient=patient,
        opened_at=TEN - timedelta(hours=1),
        impression="septic",
        readings=readings,
        latest={name: Latest(value, TEN) for name, value in signs.items()},
        doses=(fluid, infusion, *pushes),
    )


ADULT = busy_case(Patient(age=Age(54, "years"), weight=Weight(80)))
CHILD = busy_case(Patient(age=Age(5, "years"), weight=Weight(18)))
GUESSED = busy_case(Patient(age=Age(5, "years"), weight=Weight(18, basis="length")))


GRAMS = count(1)


def heavier(facts: Facts) -> Facts:
    """The same case of somebody who weighs a gram more than the one before."""
    patient, weight = facts.patient, facts.patient.weight or Weight(80)
    more = structs.replace(weight, value=weight.value + next(GRAMS) / 1000)
    return structs.replace(facts, patient=structs.replace(patient, weight=more))


def checks(facts: Facts) -> None:
    """One check of each treatment."""
    for treatment in RULES.treatments.values():
        unit = treatment.unit
        if treatment.slug == "vasopressin-infusion":
            unit = "units/min" if facts is ADULT else "units/kg/min"
        proposal = Proposal(treatment=treatment.slug, amount=Amount(1, unit), route=min(treatment.routes), at=TEN)
        limits.check(proposal, facts, RULES)


def look(facts: Facts) -> None:
    """The guidance for all treatments."""
    guidance.guidance(facts, RULES, TEN)


def milliseconds(call: Callable[[], object], times: int, clock: Callable[[], float]) -> float:
    """What one call takes."""
    started = clock()
    for _ in range(times):
        call()
    return (clock() - started) / times * 1000


def one_round(times: int, clock: Callable[[], float]) -> dict[str, float]:
    """One measurement of everything, in ms."""
    kinds = len(RULES.treatments)
    row = {}
    for who, facts in (("adult", ADULT), ("child", CHILD), ("guessed weight", GUESSED)):
        row[f"check, {who}"] = milliseconds(lambda facts=facts: checks(facts), times, clock) / kinds
        row[f"guidance, {who}"] = milliseconds(lambda facts=facts: look(heavier(facts)), times, clock)
    return row


def main() -> None:
    """Print the medians of all rounds; exit 1 where one is over its limit."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--rounds", type=int, default=9)
    options.add_argument("--times", type=int, default=20, help="how often each is called in a round")
    options.add_argument("--cpu", action="store_true", help="count this program's own time, for a busy machine")
    chosen = options.parse_args()
    clock = process_time if chosen.cpu else perf_counter
    one_round(1, clock)
    rows = [one_round(chosen.times, clock) for _ in range(chosen.rounds)]
    print(f"medians of {chosen.rounds} rounds, ms" + (" of this program's own time" if chosen.cpu else ""))
    over = False
    for name in rows[0]:
        found, limit = median(row[name] for row in rows), LIMITS_MS[name.partition(",")[0]]
        over = over or found > limit
        print(f"{name:<26}{found:>8.3f}   limit {limit:g}")
    raise SystemExit(over)


if __name__ == "__main__":
    main()
