"""What hangs as a crystalloid: a product that nobody listed needs an order; water and potassium are never one."""

from __future__ import annotations

import pytest

from dosing.tell import guidance
from tests.dosing.bedside import CONSERVATIVE, RULES, TEN, adult, check, child, facts, given, told

LOW = {"sbp": 80, "dbp": 45}
HARD, ORDER = "over_hard_limit", "needs_order"
NEWBORN, INFANT = child(20, 3.5, "days"), child(29, 4, "days")
HUNG = {"signs": {"glucose_mg_dl": 90}}


def hung(product, known=None, rules=RULES):
    """How grave the finding about a product is; empty where there is none."""
    found = check("crystalloid-bolus", 30, "mL", known or facts(**LOW, **HUNG), product=product, rules=rules).findings
    return next((each.level for each in found if each.code in ("wrong_stock", "contraindicated")), "")


# ISMP list of high-alert medications: potassium chloride, water by the bag; isotonic fluid for shock (from memory).
@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
@pytest.mark.parametrize(
    ("product", "level"),
    [
        *[
            ("potassium chloride", HARD),
            ("KCl 20 mEq", HARD),
            ("normal saline with 40 mEq KCl", HARD),
            ("sterile water", HARD),
        ],
        *[("sodium chloride 23.4 %", HARD), ("3 % saline", HARD), ("D50", HARD)],
        *[
            ("0.45 % saline", ORDER),
            ("half normal saline", ORDER),
            ("mannitol", ORDER),
            ("albumin 5 %", ORDER),
            ("xyz", ORDER),
        ],
        # what stands beside a known fluid (a pharmacist's cases)
        *[
            (each, ORDER)
            for each in ("1/4 NS", "\u00bc NS", "NS, heparin 1000 units", "NS with vitamins", "2 NS", "NS or mannitol")
        ],
        *[
            (each, HARD)
            for each in ("normal saline, K 20", "NS 20K", "K-phos in NS", "D5NS", "D5 1/2 NS", "D5LR", "NS + potassium")
        ],
        *[
            (each, "")
            for each in (
                "NS 500 mL",
                "0.9 % sodium chloride 1000mL bag",
                "Plasma-Lyte A pH 7.4",
                "1 L of LR",
                "warm Hartmann's solution",
            )
        ],
        *[
            ("0.9 % saline", ""),
            ("NS", ""),
            ("normal saline", ""),
            ("0.9% NaCl", ""),
            ("lactated Ringer's", ""),
            ("LR", ""),
        ],
        *[
            ("Ringer’s lactate", ""),
            ("Hartmann's", ""),
            ("Plasma-Lyte A", ""),
            ("balanced crystalloid", ""),
            (None, ""),
        ],
    ],
)
def test_only_what_is_listed_runs_without_an_order(product, level, rules):
    assert hung(product, rules=rules) == level


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=lambda rules: rules.name)
def test_what_is_offered_by_name_is_listed(rules):
    offered = [each.name for each in rules.treatments["crystalloid-bolus"].fluids if not (each.barred or each.by_order)]

    assert offered
    assert [hung(name, rules=rules) for name in offered] == [""] * len(offered)


# ---- ceftriaxone and calcium in a newborn (ceftriaxone label, contraindications, from memory): crystals


@pytest.mark.parametrize("route", ["IV", "IM"])
@pytest.mark.parametrize(
    ("patient", "hours", "stopped"),
    [
        (NEWBORN, 1, True),
        (child(28, 4, "days"), 0.5, True),
        (child(5, 4, "days"), 0.5, True),
        (NEWBORN, 47, True),
        (NEWBORN, 49, False),
        (INFANT, 1, False),
        (adult(), 1, False),
    ],
)
@pytest.mark.parametrize(
    ("treatment", "value", "more"),
    [
        ("calcium-gluconate", 100, {"indication": "hyperkalemia"}),
        ("calcium-chloride", 50, {"indication": "hyperkalemia"}),
        ("crystalloid-bolus", 30, {"product": "lactated Ringer's"}),
        ("crystalloid-bolus", 30, {"product": "LR"}),
    ],
)
def test_no_calcium_after_ceftriaxone_in_a_newborn(patient, hours, stopped, treatment, value, more, route):
    before = given("ceftriaxone", hours * 60, 150, "mg", route=route)
    unit = RULES.treatments[treatment].unit
    found = check(treatment, value, unit, facts(patient, doses=(before,), **LOW), **more).findings

    assert any(each.level == HARD and "crystals" in each.text for each in found) == stopped
    assert not any(
        "crystals" in each.text for each in check(treatment, value, unit, facts(patient, **LOW), **more).findings
    )


def test_saline_after_ceftriaxone_is_told_and_given():
    known = facts(NEWBORN, doses=(given("ceftriaxone", 60, 150, "mg", route="IV"),), **LOW, **HUNG)
    row = told("crystalloid-bolus", known)

    assert hung("0.9 % saline", known) == ""
    assert any("never lactated Ringer's" in each["text"] for each in row["findings"])
    assert row["usual"]
    assert any(each["treatment"] == "crystalloid-bolus" for each in guidance.guidance(known, RULES, TEN))
