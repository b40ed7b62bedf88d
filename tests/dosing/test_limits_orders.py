"""Orders: what a read-back order makes of its findings, and what it does not cover."""

from typing import Any

import pytest

from dosing.check import limits
from dosing.ground.facts import Amount, Order
from tests.dosing.bedside import RULES, ago, check, codes, facts, given

PUSH = "epinephrine-push-dose"
FLUID = given("crystalloid-bolus", 60, 1, "mL")


def order(value: float = 30, unit: str = "mcg", **more: Any) -> Order:
    """Dr Okoye's order of an epinephrine push."""
    known = {"id": "o1", "treatment": PUSH, "state": "read_back", "route": "IV", "by": "Dr Okoye"} | more
    return Order(amount=Amount(value, unit), **known)


def test_without_an_order_the_dose_needs_one():
    assert check(PUSH, 30, "mcg").verdict == "needs_order"


def test_an_order_that_was_read_back_makes_cautions_of_what_it_was_given_for():
    checked = check(PUSH, 30, "mcg", order=order())
    found = next(one for one in checked.findings if one.code == "above_most")

    assert checked.verdict == "caution"
    assert found.text.startswith("ordered by Dr Okoye: 30 mcg is over")


@pytest.mark.parametrize(
    ("cosigned", "level", "words"),
    [("", "over_hard_limit", ""), ("Dr Quill", "caution", "ordered by Dr Okoye, co-signed by Dr Quill: ")],
)
def test_over_a_hard_limit_an_order_holds_once_it_is_cosigned(cosigned, level, words):
    found = check(PUSH, 900, "mcg", order=order(900, cosigned_by=cosigned)).findings
    over = next(each for each in found if each.code == "above_hard_limit")

    assert over.level == level
    assert over.text.startswith(f"{words}900 mcg is over the hard limit")


@pytest.mark.parametrize("state", ["requested", "approved", "declined", "expired", "withdrawn"])
def test_an_order_that_was_not_read_back_is_none_yet(state):
    checked = check(PUSH, 30, "mcg", order=order(state=state))

    assert {"order_not_read_back", "above_most"} <= codes(checked)
    assert checked.verdict == "needs_order"


def test_an_order_that_ended_says_how_in_the_words_that_it_brings():
    told = "the order was withdrawn by Dr Okoye at 12:05:10 UTC: pressure came up"
    checked = check(PUSH, 30, "mcg", order=order(state="withdrawn", told=told))

    assert told in {finding.text for finding in checked.findings}


@pytest.mark.parametrize(
    ("name", "told", "level"),
    [
        ("fentanyl", "fentaNYL is in the rules as fentaNYL", "needs_order"),
        (" Fentanyl  CITRATE 50 mcg/mL", "fentaNYL is in the rules as fentaNYL", "needs_order"),
        ("Levophed", "“Levophed” is norepinephrine, in the rules as norepinephrine infusion", "needs_order"),
        ("calcium-chloride", "calcium chloride is in the rules as calcium chloride", "caution"),
        (
            "calcium",
            "“calcium” is calcium chloride or calcium gluconate, in the rules as calcium chloride or",
            "caution",
        ),
        # as fentanyl: their class is known though no limit is; ISMP high-alert drugs (from memory)
        *[(name, "not in the rule set", "needs_order") for name in ("morphine 10 mg", "lorazepam", "propofol")],
        *[(name, "not in the rule set", "needs_order") for name in ("vecuronium", "potassium chloride 400 mEq", "KCl")],
        ("Zemuron", "“Zemuron” is rocuronium, in the rules as rocuronium", "needs_order"),
        *[(name, "not in the rule set", "caution") for name in ("ondansetron", "potassium iodide", "metoprolol")],
        ("cefazolin sodium", "not in the rule set", "caution"),
        ("", "not in the rule set", "caution"),
    ],
)
def test_a_drug_of_the_rules_is_told_as_such_though_it_is_called_another(name: str, told: str, level: str):
    """A pressor, sedative or opioid whose limits could not be checked lies beyond them; of others it is a caution."""
    (finding,) = limits.outside_rule_set(RULES, name=name).findings

    assert (finding.code, finding.level) == ("not_in_rule_set", level)
    assert finding.text.startswith(told)
    assert "limit" in finding.text
    ordered, approved = (
        limits.outside_rule_set(RULES, order(state=state), name).findings for state in ("read_back", "approved")
    )
    assert [each.level for each in ordered if each.code == finding.code] == ["caution"]
    assert [each.level for each in approved if each.code == finding.code] == [level]


@pytest.mark.parametrize(
    ("state", "verdict", "found"),
    [
        ("withdrawn", "needs_order", {"not_in_rule_set", "order_not_read_back"}),
        ("read_back", "caution", {"not_in_rule_set"}),
    ],
)
def test_a_drug_outside_the_rules_says_too_that_its_order_does_not_hold(state, verdict, found):
    checked = check("other", 2, "mg", order=order(2, "mg", treatment="other", state=state))

    assert (checked.verdict, codes(checked)) == (verdict, found)


@pytest.mark.parametrize(
    ("value", "unit", "more", "covered"),
    [
        pytest.param(0.03, "mg", {}, True, id="another spelling of the amount"),
        pytest.param(25, "mcg", {}, False, id="more than was ordered"),
        pytest.param(50, "mcg", {}, True, id="less than was ordered"),
        pytest.param(30, "mcg", {"route": "IO"}, False, id="another route"),
        pytest.param(30, "mcg", {"treatment": "phenylephrine-push-dose"}, False, id="another drug"),
        pytest.param(30, "mcg", {"times": 2, "given": 2}, False, id="all given"),
        pytest.param(30, "mcg", {"times": 3, "given": 2}, True, id="one left"),
    ],
)
def test_an_order_covers_its_drug_route_amount_and_number(value, unit, more, covered):
    checked = check(PUSH, 30, "mcg", order=order(value, unit, **more))

    assert (checked.verdict == "caution") is covered


@pytest.mark.parametrize(
    ("minutes", "more", "verdict"),
    [
        pytest.param(1, {}, "caution", id="a single dose ordered for now"),
        pytest.param(1, {"times": 3, "given": 1, "every_min": 2}, "needs_order", id="sooner than the order says"),
        pytest.param(1, {"times": 3, "given": 1, "every_min": 1}, "caution", id="as often as the order says"),
        pytest.param(1, {"times": 3, "given": 0, "every_min": 2}, "caution", id="the first of a series"),
    ],
)
def test_too_soon_under_an_order(minutes, more, verdict):
    known = facts(doses=(FLUID, given(PUSH, minutes + 0.1, 10, "mcg")))
    checked = check(PUSH, 20, "mcg", known, order=order(20, **more))

    assert "too_soon" in codes(checked)
    assert checked.verdict == verdict


@pytest.mark.parametrize(
    ("minutes", "more", "verdict", "free"),
    [
        pytest.param(3, {"times": 3, "given": 1, "every_min": 5}, "needs_order", 2, id="longer than the rules say"),
        pytest.param(4.74, {"times": 3, "given": 1, "every_min": 5}, "needs_order", 0.26, id="before its grace"),
        pytest.param(4.75, {"times": 3, "given": 1, "every_min": 5}, "caution", 5, id="within its grace"),
        pytest.param(5, {"times": 2, "given": 1, "every_min": 5}, "caution", 2, id="the last of the series"),
        pytest.param(1, {"times": 3, "given": 1, "every_min": 1}, "caution", 1, id="shorter than the rules say"),
        pytest.param(3, {"times": 3, "given": 0, "every_min": 5}, "caution", 5, id="the first of the series"),
        pytest.param(1, {"times": 3, "given": 3, "every_min": 1}, "needs_order", 1, id="all given: by the rules"),
        pytest.param(1, {"state": "approved", "times": 3, "every_min": 1}, "needs_order", 1, id="not read back"),
        pytest.param(1, {}, "caution", 2, id="a single dose for now"),
    ],
)
def test_the_next_dose_by_the_interval_that_was_ordered(minutes, more, verdict, free):
    """Minutes since the last dose, and until the next one; the rules say 2."""
    known = facts(doses=(FLUID, given(PUSH, minutes, 30, "mcg")))
    checked = check(PUSH, 30, "mcg", known, order=order(30, **more))

    assert checked.verdict == verdict
    assert checked.next_at == ago(-free)
    assert ("too_soon" in codes(checked)) is (verdict == "needs_order" or minutes == 1)


def test_an_order_that_is_carried_out_too_soon_says_so():
    known = facts(doses=(FLUID, given(PUSH, 3, 30, "mcg")))
    checked = check(PUSH, 30, "mcg", known, order=order(30, times=3, given=1, every_min=5))
    found = next(one for one in checked.findings if one.code == "too_soon")

    assert found.text == "ordered by Dr Okoye no sooner than 5 min after the last dose"
    assert (found.limit, found.source) == (Amount(5, "min"), "order by Dr Okoye")


def test_no_order_lifts_a_hard_limit():
    checked = check(PUSH, 1, "mg", order=order(1, "mg"))

    assert checked.verdict == "over_hard_limit"


def test_an_infusion_that_was_ordered_may_start():
    norepinephrine = {"treatment": "norepinephrine-infusion"}
    checked = check(
        "norepinephrine-infusion",
        8,
        "mcg/min",
        concentration=Amount(16, "mcg/mL"),
        order=order(0.1, "mcg/kg/min", **norepinephrine),
    )

    assert checked.verdict == "caution"
    assert any("ordered by Dr Okoye" in finding.text for finding in checked.findings)


@pytest.mark.parametrize(
    ("stated", "strength", "verdict"),
    [
        pytest.param((30, "mL/h"), 16, "caution", id="as ordered"),
        pytest.param((0.1, "mcg/kg/min"), 16, "caution", id="30 mL/h of 16 mcg/mL is 0.1 mcg/kg/min at 80 kg"),
        pytest.param((15, "mL/h"), 32, "caution", id="half the rate of twice the strength"),
        pytest.param((30, "mL/h"), 32, "needs_order", id="the same rate of twice the strength"),
    ],
)
def test_an_order_of_a_pump_rate_covers_the_drug_in_it(stated, strength, verdict):
    """INF-001: mL/h = mcg/kg/min x kg x 60 / (mcg/mL)."""
    ordered = order(30, "mL/h", treatment="norepinephrine-infusion", concentration=Amount(16, "mcg/mL"))
    hung = Amount(strength, "mcg/mL")

    assert check("norepinephrine-infusion", *stated, concentration=hung, order=ordered).verdict == verdict


def test_an_order_stated_in_another_kind_covers_nothing():
    assert check(PUSH, 30, "mcg", order=order(30, "mL")).verdict == "needs_order"
