"""A long case keeps the newest one by one and adds up or counts the rest: all is told as if it kept all."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import msgspec
import pytest

from consult import queries
from consult.actions import alerts, cards, checks, containers, corrections, interventions
from consult.actions.carry_out import load
from consult.case import card as case_card
from consult.case.card import Totals, totals_of
from consult.case.decide import added_up
from consult.case.fold import alerted, treated
from consult.models import Alert, Reassessment
from consult.state.case import CaseState, facts_of
from dosing.check import limits
from dosing.ground.facts import Amount, Facts, Proposal
from dosing.ground.given_before import Earlier
from dosing.rules.rule_set import RuleSet
from dosing.tell.guidance import guidance
from dosing.watch.causes import Watched, watch
from tests import depth
from tests.conftest import Consult, later
from tests.consult.test_replay import ACTS, Act

PUSH = "epinephrine-push-dose"
FEW = 3
KEPT = 12  # enough for limits that count doses; as delivered it takes five times as long
AS_DELIVERED = added_up.MOST_KEPT
Patch = pytest.MonkeyPatch


@pytest.fixture(autouse=True)
def _fewer_are_kept(monkeypatch: Patch) -> None:
    monkeypatch.setattr(added_up, "MOST_KEPT", KEPT)


def _kept(consult: Consult) -> CaseState:
    return msgspec.json.decode(consult.row.folded, type=CaseState)


def _whole(consult: Consult) -> CaseState:
    """The case as if each of its doses, and each reading that is asked for, were kept one by one."""
    kept, past = _kept(consult), load(consult.row).past
    asked = sorted((*kept.reassessments, *past.unanswered()), key=treated.by_due)
    doses = {"doses": past.every_dose(), "earlier": Earlier()}
    return msgspec.structs.replace(kept, reassessments=tuple(asked), unanswered={}, **doses)


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
    assert _watched(facts, rules, at) == _watched(every, rules, at)
    for slug, value, unit in ((PUSH, 10, "mcg"), ("crystalloid-bolus", 500, "mL"), ("fentanyl", 1, "mcg/kg")):
        proposal = Proposal(treatment=slug, amount=Amount(value, unit), route="IV", at=at)
        assert limits.check(proposal, facts, rules) == limits.check(proposal, every, rules)
    assert cards.faults(consult.row) == []
    known, opened = {each.id for each in kept.alerts}, Alert.objects.filter(case=consult.row, cleared_at=None)
    assert {str(each.uid) for each in opened} >= known
    assert opened.count() == len(known) + kept.more_alerts


def _watched(facts: Facts, rules: RuleSet, at: datetime) -> Watched:
    """What stands and when it changes; since when the oldest reading is overdue only dates the alert's first line."""
    watched, late = watch(facts, rules, at), "reassessment_overdue"
    causes = (msgspec.structs.replace(each, since=at) if each.kind == late else each for each in watched.causes)
    return msgspec.structs.replace(watched, causes=tuple(causes))


def _few(monkeypatch: Patch) -> None:
    for module, name in ((added_up, "MOST_KEPT"), (treated, "MOST_OVERDUE"), (alerted, "MOST_ALERTS")):
        monkeypatch.setattr(module, name, FEW)


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
        told = dice.choice([{}, *({"infused": {"value": value, "unit": "mL"}} for value in (0, 40))])
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


def _noticed(consult: Consult, at: Any, dice: random.Random) -> None:
    """Somebody takes notice of an open alert, be it one that the state only counts."""
    opened = [*Alert.objects.filter(case=consult.row, cleared_at=None, acknowledged_at=None)]
    if opened:
        alerts.acknowledge(consult.cast.merrin, dice.choice(opened).uid, {"id": uuid4()}, at)


def _unanswered(consult: Consult, at: Any, dice: random.Random) -> None:
    """A few pushes without a reading between them."""
    for seconds in range(dice.choice([2, 5]), 0, -1):
        consult.give(PUSH, 40, "mcg", at=at - timedelta(seconds=seconds), now=at)


def _reassessed(consult: Consult, at: Any, dice: random.Random) -> None:
    """All that is asked for, so that no dose waits for its reading."""
    known = {"lungs": "clear", "rr": 18, "spo2": 95, "avpu": "A", "temp_c": 36.8, "pulses": "radial"}
    consult.vitals(at=at, sbp=dice.randint(70, 100), dbp=50, hr=110, **known)


MORE: list[Act] = [_fentanyl, _fentanyl, _blood, _blood, _other, *[_late] * 5, _late_reading, _stopped, _rate, _rate]
MORE += [_reassessed] * 6 + [_unanswered] * 2 + [_noticed] * 3


@pytest.mark.parametrize("seed", range(100 if depth.NIGHT else 1))
def test_with_few_doses_kept_all_is_told_as_if_all_were(consult: Consult, seed: int, monkeypatch: Patch) -> None:
    _few(monkeypatch)
    dice = random.Random(seed)
    for minute in range(60):
        dice.choice([*ACTS, *MORE])(consult, later(minutes=minute), dice)
        if depth.NIGHT or minute % 6 == 5:
            _as_if_all_were_kept(consult, later(minutes=minute))
    assert _kept(consult).earlier.until, "nothing was added up"


def _many(consult: Consult, kept: int = KEPT) -> list[Any]:
    """More pushes than are kept, with a pressure after each, so that none waits for its reading."""
    given = []
    for number in range(kept + 5):
        given.append(consult.give(PUSH, 10, "mcg", at=later(minutes=3 * number)))
        consult.vitals(at=later(minutes=3 * number + 2), sbp=84, dbp=50, hr=110)
    return given


@pytest.mark.parametrize("kept", [KEPT, AS_DELIVERED])
def test_totals_count_what_is_only_added_up(consult: Consult, kept: int, monkeypatch: Patch) -> None:
    """Five pushes and 100 mcg in all before an order, as the demonstration rule set has it."""
    monkeypatch.setattr(added_up, "MOST_KEPT", kept)
    found = {each.code: each.text for each in _many(consult, kept)[-1].resource.check.findings}
    line = consult.card["given"][0]

    assert len(_kept(consult).doses) == kept
    assert (line["count"], line["total"]) == (kept + 5, {"value": 10 * (kept + 5), "unit": "mcg"})
    assert found["count_reached"].startswith(f"this is number {kept + 5};")
    assert found["total_reached"].startswith(f"cumulative {10 * (kept + 5)} mcg;")


def test_a_dose_that_waits_for_its_reading_is_kept(consult: Consult, monkeypatch: Patch) -> None:
    monkeypatch.setattr(added_up, "MOST_KEPT", AS_DELIVERED)
    drip = {"concentration": {"value": 16, "unit": "mcg/mL"}, "status": "running"}
    first = consult.give("norepinephrine-infusion", 4, "mcg/min", at=later(), **drip).resource.id
    stopped = {"id": uuid4(), "at": later(minutes=1), "status": "stopped"}
    interventions.change_intervention(consult.cast.osk, UUID(first), stopped, later(minutes=1))
    _pushes(consult, AS_DELIVERED + 5)
    assert _kept(consult).keeps(first)
    assert len(_kept(consult).doses) == AS_DELIVERED + 2, "it, and the push by which its reading is late"
    _as_if_all_were_kept(consult, later(minutes=200))


ONE_BY_ONE = treated.MOST_OVERDUE


def _pushes(consult: Consult, number: int) -> list[UUID]:
    """Pushes that no reading follows."""
    given = [consult.give(PUSH, 10, "mcg", at=later(minutes=2 * (place + 1))) for place in range(number)]
    return [UUID(each.resource.id) for each in given]


def _take_back(consult: Consult, kind: str, entry: UUID, minute: int) -> None:
    wrong = {"target": {"kind": kind, "id": entry}, "reason": "other patient"}
    corrections.correct(consult.cast.osk, consult.uid, {"id": uuid4(), **wrong}, later(minutes=minute))


def _overdue_text(consult: Consult) -> str:
    (text,) = [alert["text"] for alert in consult.card["alerts"] if alert["kind"] == "reassessment_overdue"]
    return str(text).partition("UTC")[2]


def test_of_many_readings_that_are_overdue_one_alert_tells_how_many(consult: Consult) -> None:
    """The last of them is not overdue yet, the two before it were so by the next push alone, before their time."""
    _pushes(consult, ONE_BY_ONE + 6)
    assert _overdue_text(consult) == f", and {ONE_BY_ONE + 4} earlier"
    assert _kept(consult).unanswered == {"EPINEPHrine push dose": 3}
    assert len(consult.card["reassessments"]) == ONE_BY_ONE + 3
    _as_if_all_were_kept(consult, later(minutes=40))


def test_the_reading_that_answers_them_is_told_of_each(consult: Consult) -> None:
    given = _pushes(consult, ONE_BY_ONE + 6)
    reading = consult.vitals(at=later(minutes=50), sbp=84, dbp=50, hr=110).resource.id
    asked = Reassessment.objects.filter(intervention__uid__in=given)

    assert {each.state for each in asked} == {"done"}
    assert (_kept(consult).unanswered, consult.card["reassessments"]) == ({}, [])
    assert "reassessment_overdue" not in consult.alerts

    _take_back(consult, "vitals", UUID(reading), 51)
    assert {each.state for each in asked.all()} == {"overdue"}
    assert _overdue_text(consult) == f", and {ONE_BY_ONE + 5} earlier"
    _as_if_all_were_kept(consult, later(minutes=51))


def test_a_late_reading_answers_those_before_it_alone(consult: Consult) -> None:
    """Taken after the second push, and in time for the first two."""
    _pushes(consult, ONE_BY_ONE + 6)
    consult.vitals(at=later(minutes=5.5), now=later(minutes=50), sbp=84, dbp=50, hr=110)

    assert _kept(consult).unanswered == {"EPINEPHrine push dose": 4}
    assert _overdue_text(consult) == f", and {ONE_BY_ONE + 3} earlier"
    _as_if_all_were_kept(consult, later(minutes=50))


@pytest.mark.parametrize("place", [0, -2], ids=["one that is counted", "one that stands"])
def test_a_dose_taken_back_is_counted_no_more(consult: Consult, place: int) -> None:
    given = _pushes(consult, ONE_BY_ONE + 6)
    consult.give("crystalloid-bolus", 100, "mL", at=later(minutes=49))
    _take_back(consult, "intervention", given[place], 50)

    assert _overdue_text(consult) == f", and {ONE_BY_ONE + 4} earlier"
    _as_if_all_were_kept(consult, later(minutes=50))


def test_one_more_that_is_overdue_wants_again_whoever_has_taken_notice(consult: Consult) -> None:
    def overdue() -> Any:
        (alert,) = [each for each in consult.card["alerts"] if each["kind"] == "reassessment_overdue"]
        return alert

    bolus = {"status": "finished", "over_min": 5}
    consult.give("crystalloid-bolus", 100, "mL", at=later(minutes=-5), now=later(), **bolus)
    consult.give("crystalloid-bolus", 100, "mL", at=later(minutes=5), now=later(minutes=10), **bolus)
    alerts.sweep(later(minutes=11))
    alerts.acknowledge(consult.cast.merrin, UUID(overdue()["id"]), {"id": uuid4()}, later(minutes=11.5))
    assert (overdue()["priority"], bool(overdue()["acknowledged"])) == ("medium", True)

    consult.vitals(at=later(minutes=29), hr=110)
    alerts.sweep(later(minutes=30))
    assert overdue()["acknowledged"] is None
    assert overdue()["text"].endswith(", and 1 earlier")
    assert Alert.objects.filter(kind="reassessment_overdue").count() == 1


def test_what_nobody_has_noticed_goes_on_climbing_with_each_further_one(consult: Consult) -> None:
    """A push each 40 s: high goes on after 60 s, and after 60 s more (contract, "Alerts")."""
    for number in range(8):
        consult.give(PUSH, 10, "mcg", at=later(seconds=40 * number))
        alerts.sweep(later(seconds=40 * number))
    (alert,) = [each for each in consult.card["alerts"] if each["kind"] == "reassessment_overdue"]

    assert alert["escalated_to"] == "supervisor"


def test_of_many_alerts_the_newest_stand_and_an_older_one_comes_back(consult: Consult, monkeypatch: Patch) -> None:
    """Whoever takes notice of a newer one sees an older one in its place; none is gone before somebody has."""
    monkeypatch.setattr(alerted, "MOST_ALERTS", FEW)
    for number in range(6):
        consult.give(PUSH, 40, "mcg", at=later(minutes=4 * number))
        consult.vitals(at=later(minutes=4 * number + 1), sbp=84, dbp=50)
        for minute in (2, 3):
            alerts.sweep(later(minutes=4 * number + minute, seconds=30))
    raised = [*Alert.objects.filter(case=consult.row, kind="dose_outside_limits").order_by("id")]

    def shown() -> list[UUID]:
        return [UUID(each["id"]) for each in consult.card["alerts"] if each["kind"] == "dose_outside_limits"]

    assert (shown(), _kept(consult).more_alerts) == ([each.uid for each in raised[3:]], 3)
    newest, oldest = raised[5], raised[0]
    alerts.acknowledge(consult.cast.merrin, oldest.uid, {"id": uuid4()}, later(minutes=30))
    assert (shown(), _kept(consult).more_alerts) == ([each.uid for each in raised[3:]], 2)
    alerts.acknowledge(consult.cast.merrin, newest.uid, {"id": uuid4()}, later(minutes=31))
    assert (shown(), _kept(consult).more_alerts) == ([each.uid for each in raised[2:5]], 1)
    assert {each.cleared_because for each in Alert.objects.filter(uid__in=[oldest.uid, newest.uid])} == {
        f"acknowledged by {consult.cast.merrin.name}"
    }
    _as_if_all_were_kept(consult, later(minutes=31))


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


def test_a_dose_told_late_finds_its_place_before_what_is_kept(consult: Consult, monkeypatch: Patch) -> None:
    """Judged by its place, it is the second; those after it are judged anew. A card shows as many as are kept."""
    monkeypatch.setattr(case_card, "MOST_SHOWN", KEPT)
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
    kept = msgspec.json.decode(consult.row.folded, type=CaseState).access
    assert (len(kept), kept[0].gauge) == (61, 14)


def test_of_many_flows_the_newest_stay_and_what_a_cylinder_in_hand_has_given(consult: Consult) -> None:
    gas = {"form": "cylinder", "cylinder": {"size": "H", "pressure": {"value": 2200, "unit": "psi"}}}
    for number in range(200):
        at = later(minutes=6 * number)
        if number == 100:
            containers.record_container(consult.cast.osk, consult.uid, {"id": uuid4(), "at": at, **gas}, at)
        consult.vitals(at=at, oxygen_l_min=number % 15)
    flows = msgspec.json.decode(consult.row.folded, type=CaseState).oxygen
    assert (len(flows), flows[0].at) == (100, later(minutes=600))
    assert not cards.differs(consult.row)
