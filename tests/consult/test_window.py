"""A long case keeps its newest doses one by one and adds up the rest: all that is told of it is as if it kept all."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import msgspec
import pytest

from consult import queries
from consult.actions import cards, checks, containers, corrections, interventions
from consult.actions.carry_out import load
from consult.case.card import Totals, totals_of
from consult.case.decide import added_up
from consult.state.case import CaseState, facts_of
from dosing.check import limits
from dosing.ground.facts import Amount, Earlier, Proposal
from dosing.tell.guidance import guidance
from dosing.watch.causes import watch
from tests import depth
from tests.conftest import Consult, later
from tests.consult.test_replay import ACTS, Act

PUSH = "epinephrine-push-dose"
FEW = 3
KEPT = added_up.MOST_KEPT


def _kept(consult: Consult) -> CaseState:
    return msgspec.json.decode(consult.row.folded, type=CaseState)


def _whole(consult: Consult) -> CaseState:
    """The case as if each of its doses were kept one by one."""
    return msgspec.structs.replace(_kept(consult), doses=load(consult.row).past.every_dose(), earlier=Earlier())


def _in_any_order(totals: Totals) -> Totals:
    """Of two treatments that were first given at the same moment either may stand first."""
    given = sorted(totals.given, key=lambda line: (line.treatment, line.title))
    return msgspec.structs.replace(totals, given=tuple(given))


def _as_if_all_were_kept(consult: Consult, at: datetime) -> None:
    """Card, alerts, guidance and checks are those of a case that keeps every dose; the journal says the same."""
    kept, whole, rules = _kept(consult), _whole(consult), queries.rules_of(consult.row)
    facts, every = facts_of(kept), facts_of(whole)

    assert _in_any_order(totals_of(kept, facts, rules)) == _in_any_order(totals_of(whole, every, rules))
    assert guidance(facts, rules, at) == guidance(every, rules, at)
    assert watch(facts, rules, at) == watch(every, rules, at)
    for slug, value, unit in ((PUSH, 10, "mcg"), ("crystalloid-bolus", 500, "mL"), ("fentanyl", 1, "mcg/kg")):
        proposal = Proposal(treatment=slug, amount=Amount(value, unit), route="IV", at=at)
        assert limits.check(proposal, facts, rules) == limits.check(proposal, every, rules)
    assert cards.faults(consult.row) == []


def _fentanyl(consult: Consult, at: Any, dice: random.Random) -> None:
    consult.give("fentanyl", dice.choice([0.5, 1]), dice.choice(["mcg/kg", "mcg/kg", "mcg"]), at=at)


def _blood(consult: Consult, at: Any, dice: random.Random) -> None:
    value, unit = dice.choice([(1, "bag"), (200, "mL")])
    consult.give("blood-product", value, unit, at=at, product="whole_blood")


def _other(consult: Consult, at: Any, dice: random.Random) -> None:
    named = {"name": dice.choice(["Ondansetron", "Ketorolac"]), "amount_text": "one vial"}
    consult.give("other", 4, "mg", at=at, **named)


def _late(consult: Consult, at: Any, dice: random.Random) -> None:
    """Told so late that it may lie among what is only added up."""
    consult.give(PUSH, 10, "mcg", at=at - timedelta(minutes=dice.choice([1, 5, 12, 25])), now=at)


def _late_reading(consult: Consult, at: Any, dice: random.Random) -> None:
    consult.vitals(at=at - timedelta(minutes=dice.choice([4, 20])), now=at, sbp=88, dbp=50, oxygen_l_min=6)


def _stopped(consult: Consult, at: Any, dice: random.Random) -> None:
    """The end of what runs, perhaps for long, with or without what was infused in all."""
    running = consult.card["running"]
    if running:
        told = dice.choice([{}, {"infused": {"value": 40, "unit": "mL"}}])
        done = {"id": uuid4(), "at": at, "status": "stopped", **told}
        interventions.change_intervention(consult.cast.osk, UUID(running[0]["id"]), done, at)


def _rate(consult: Consult, at: Any, dice: random.Random) -> None:
    """A new rate of what runs or ran, perhaps told late, even of what is only added up."""
    ran = [each for each in _whole(consult).doses if each.rates and not each.in_error]
    if ran:
        dose = dice.choice(ran)
        end = at if dose.ended_at is None else dose.ended_at - timedelta(seconds=1)
        set_at = max(end - timedelta(minutes=dice.choice([0, 0, 6])), dose.given_at)
        if dose.ended_at is None or set_at < dose.ended_at:
            change = {"id": uuid4(), "at": set_at, "amount": {"value": dice.choice([4, 6, 8]), "unit": "mcg/min"}}
            interventions.change_intervention(consult.cast.osk, UUID(dose.id), change, at)


def _reassessed(consult: Consult, at: Any, dice: random.Random) -> None:
    """All that is asked for, so that no dose waits for its reading."""
    known = {"lungs": "clear", "rr": 18, "spo2": 95, "avpu": "A", "temp_c": 36.8, "pulses": "radial"}
    consult.vitals(at=at, sbp=dice.randint(70, 100), dbp=50, hr=110, **known)


MORE: list[Act] = [_fentanyl, _fentanyl, _blood, _blood, _other, *[_late] * 5, _late_reading, _stopped, _rate, _rate]
MORE += [_reassessed] * 6


@pytest.mark.parametrize("seed", range(100 if depth.NIGHT else 2))
def test_with_few_doses_kept_all_is_told_as_if_all_were(
    consult: Consult, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(added_up, "MOST_KEPT", FEW)
    dice = random.Random(seed)
    for minute in range(60):
        dice.choice([*ACTS, *MORE])(consult, later(minutes=minute), dice)
        if depth.NIGHT or minute % 6 == 5:
            _as_if_all_were_kept(consult, later(minutes=minute))
    assert _kept(consult).earlier.until, "nothing was added up"


def _many(consult: Consult) -> list[Any]:
    """More pushes than are kept, with a pressure after each, so that none waits for its reading."""
    given = []
    for number in range(KEPT + 5):
        given.append(consult.give(PUSH, 10, "mcg", at=later(minutes=3 * number)))
        consult.vitals(at=later(minutes=3 * number + 2), sbp=84, dbp=50, hr=110)
    return given


def test_totals_count_what_is_only_added_up(consult: Consult) -> None:
    """Five pushes and 100 mcg in all before an order, as the demonstration rule set has it."""
    found = {each.code: each.text for each in _many(consult)[-1].resource.check.findings}
    line = consult.card["given"][0]

    assert len(_kept(consult).doses) == KEPT
    assert (line["count"], line["total"]) == (KEPT + 5, {"value": 10 * (KEPT + 5), "unit": "mcg"})
    assert found["count_reached"].startswith(f"this would be number {KEPT + 5};")
    assert found["total_reached"].startswith(f"{10 * (KEPT + 5)} mcg with what was given;")


def test_a_dose_that_waits_for_its_reading_is_kept(consult: Consult) -> None:
    for minute in range(KEPT + 5):
        consult.give(PUSH, 10, "mcg", at=later(minutes=2 * minute))
    assert len(_kept(consult).doses) == KEPT + 5

    reading = consult.vitals(at=later(minutes=140), sbp=84, dbp=50, hr=110).resource.id
    consult.give(PUSH, 10, "mcg", at=later(minutes=141))
    assert len(_kept(consult).doses) == KEPT
    _as_if_all_were_kept(consult, later(minutes=141))

    wrong = {"target": {"kind": "vitals", "id": UUID(reading)}, "reason": "other patient"}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), **wrong}, later(minutes=142))
    assert len(_kept(consult).doses) == KEPT + 6
    _as_if_all_were_kept(consult, later(minutes=142))


def test_a_limit_counts_an_old_dose_of_another_treatment(consult: Consult) -> None:
    consult.give("tranexamic-acid", 1, "g", at=later(minutes=-5), now=later(), over_min=10)
    _many(consult)
    again = consult.give("tranexamic-acid", 1, "g", at=later(minutes=200), over_min=10)

    assert "count_reached" in {each.code for each in again.resource.check.findings}
    assert [(line["treatment"], line["count"]) for line in consult.card["given"]] == [
        ("tranexamic-acid", 2),
        (PUSH, KEPT + 5),
    ]


def test_a_correction_takes_out_what_is_only_added_up(consult: Consult) -> None:
    first = _many(consult)[0].resource.id
    wrong = {"target": {"kind": "intervention", "id": UUID(first)}, "reason": "other patient"}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), **wrong}, later(minutes=200))
    line = consult.card["given"][0]

    assert (line["count"], line["total"]["value"]) == (KEPT + 4, 10 * (KEPT + 4))
    _as_if_all_were_kept(consult, later(minutes=200))


def test_a_dose_told_late_finds_its_place_before_what_is_kept(consult: Consult) -> None:
    """Judged by its place, it is the second; those after it are judged anew."""
    _many(consult)
    late = consult.give(PUSH, 10, "mcg", at=later(minutes=1), now=later(minutes=200))
    codes = {each.code for each in late.resource.check.findings}
    line = consult.card["given"][0]

    assert "too_soon" in codes
    assert "count_reached" not in codes
    assert (line["count"], line["total"]["value"]) == (KEPT + 6, 10 * (KEPT + 6))
    assert late.resource.id not in [dose["id"] for dose in consult.card["doses"]]
    _as_if_all_were_kept(consult, later(minutes=200))


def test_a_proposal_for_a_time_before_what_is_kept_is_judged_by_its_place(consult: Consult) -> None:
    _many(consult)
    asked = {"treatment": PUSH, "amount": {"value": 10, "unit": "mcg"}, "route": "IV", "at": later(minutes=5)}
    found = checks.check_proposal(consult.cast.osk, consult.uid, asked, later(minutes=200)).findings

    assert "count_reached" not in {each.code for each in found}


def test_a_syringe_told_late_has_had_what_is_only_added_up(consult: Consult) -> None:
    """A 250 mL bag of it, mixed before all of them: each push drew 1 mL of 10 mcg per mL."""
    _many(consult)
    bag = {"form": "bag", "treatment": PUSH, "volume": {"value": 250, "unit": "mL"}}
    mixed = {"id": uuid4(), "at": later(minutes=-1), "strength": {"value": 10, "unit": "mcg/mL"}, **bag}
    containers.record_container(consult.cast.osk, consult.uid, mixed, later(minutes=200))

    assert consult.card["in_hand"][0]["left"] == {"value": 250 - (KEPT + 5), "unit": "mL"}
    _as_if_all_were_kept(consult, later(minutes=200))


def test_of_many_ways_in_the_newest_stay_and_the_widest_before_them(consult: Consult) -> None:
    """Through the widest a fluid goes (common practice, no source)."""
    from consult.actions import notes

    for number in range(70):
        gauge = 14 if number == 3 else 20
        done = {"id": uuid4(), "procedure": "iv_access", "at": later(minutes=number), "outcome": "done", "gauge": gauge}
        notes.add_procedure(consult.cast.osk, consult.uid, done, later(minutes=number))

    assert [way["gauge"] for way in consult.card["access"]] == [20] * 60
    state = msgspec.json.decode(consult.row.folded, type=CaseState)
    assert (len(state.access), state.access[0].gauge) == (61, 14)


def test_of_many_flows_the_newest_stay_and_what_a_cylinder_in_hand_has_given(consult: Consult) -> None:
    gas = {"form": "cylinder", "cylinder": {"size": "H", "pressure": {"value": 2200, "unit": "psi"}}}
    for number in range(200):
        if number == 100:
            opened = {"id": uuid4(), "at": later(minutes=6 * number), **gas}
            containers.record_container(consult.cast.osk, consult.uid, opened, later(minutes=6 * number))
        consult.vitals(at=later(minutes=6 * number), oxygen_l_min=number % 15)
    flows = msgspec.json.decode(consult.row.folded, type=CaseState).oxygen

    assert (len(flows), flows[0].at) == (100, later(minutes=600))
    assert not cards.differs(consult.row)
