"""What is told of one patient is of no other: nobody can change what the next gets; other limits are other amounts."""

from __future__ import annotations

from typing import Any

import pytest

from dosing.ground.facts import Amount, Container
from dosing.tell import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, ago, child, facts, given


def rows(known: Any, rules: Any = RULES) -> dict[str, Any]:
    return {row["treatment"]: row for row in guidance.guidance(known, rules, TEN)}


def test_what_is_told_cannot_be_changed_by_who_got_it():
    first = rows(facts(adult(81.5)))
    shown = {slug: (row["most"], len(row["usual"]), len(row["recipe"])) for slug, row in first.items()}
    for row in first.values():
        row["usual"].clear()
        row["recipe"].clear()
        if row["volumes"]:
            row["volumes"]["most"] = None

    again = rows(facts(adult(81.5)))
    assert {slug: (row["most"], len(row["usual"]), len(row["recipe"])) for slug, row in again.items()} == shown
    assert again["fentanyl"]["volumes"]["most"] is not None


@pytest.mark.parametrize(
    ("one", "other", "rules", "treatment"),
    [
        (facts(adult(80)), facts(adult(90)), (RULES, RULES), "fentanyl"),
        (facts(sbp=120, dbp=80), facts(sbp=80, dbp=40), (RULES, RULES), "fentanyl"),
        (facts(child(5, 18)), facts(child(5, 12)), (RULES, RULES), "furosemide"),
        (facts(impression="septic"), facts(impression="hemorrhagic"), (RULES, RULES), "crystalloid-bolus"),
        (facts(), facts(adult(history=("dialysis",))), (RULES, RULES), "milrinone-infusion"),
        (facts(), facts(), (RULES, CONSERVATIVE), "furosemide"),
    ],
    ids=["weight", "pressure", "a child's weight", "impression", "history", "rules"],
)
def test_other_limits_are_other_amounts(one, other, rules, treatment):
    most = [rows(known, of)[treatment]["most"] for known, of in zip((one, other), rules, strict=True)]

    assert most[0] != most[1]


def test_another_syringe_in_hand_is_another_volume():
    held = Container(id="c", form="syringe", at=ago(5), treatment="fentanyl", strength=Amount(10, "mcg/mL"))
    plain, thinned = (rows(facts(containers=each))["fentanyl"]["volumes"]["most"]["value"] for each in ((), (held,)))
    assert thinned == 5 * plain  # 50 mcg per mL is stocked


@pytest.mark.parametrize(("runs", "by_order"), [(False, True), (True, False)])
def test_what_runs_is_asked_for_a_new_rate_and_starts_by_no_order(runs, by_order):
    drip = given("norepinephrine-infusion", 20, 4, "mcg/min", status="running")
    row = rows(facts(doses=(drip,) if runs else ()))["norepinephrine-infusion"]

    assert ("starts_by_order" in {each["code"] for each in row["findings"]}) is by_order


def test_by_each_route_no_more_is_offered_than_is_left():
    """Naloxone: 3.7 mg of the 4 mg in all before an order were given."""
    row = rows(facts(doses=(given("naloxone", 30, 3.7, "mg", route="IV"),)))["naloxone"]

    assert row["by_route"][0]["most"] == row["most"] == {"value": 0.3, "unit": "mg"}
    assert row["by_route"][0]["least"] == row["least"] == {"value": 0.3, "unit": "mg"}
