"""The formulary against its published values: limits, intervals, strengths, volumes and pump rates."""

import pytest

from dosing.rules.rule_set import RuleSet
from tests.dosing.bedside import CONSERVATIVE, RULES
from tests.dosing.dosing_values import ROWS
from tests.dosing.formulary import expected, formulary, said

GROUPS = {"OBS": 40, "LNG": 35, "VSD": 25, "ANT": 45, "SLT": 9, "NEO": 25}  # and how many rows each has at least


@pytest.mark.parametrize("row", formulary())
def test_the_rule_set_says_what_is_published(row):
    tolerance = None if row["tolerance"] == "exact" else float(row["tolerance"])
    found, published = said(row, RULES), expected(row)

    assert found.unit == published.unit
    assert found.value == pytest.approx(published.value, rel=1e-12, abs=tolerance)


@pytest.mark.parametrize("rules", [RULES, CONSERVATIVE], ids=["demonstration", "conservative"])
def test_no_limit_of_a_set_is_above_the_published_one(rules: RuleSet):
    rows = [row for row in ROWS.values() if row["topic"] == "formulary"]
    limits = [row for row in rows if row["quantity"] in ("most", "hard", "total_hard")]
    above = [row["id"] for row in limits if said(row, rules).value > expected(row).value * (1 + 1e-12)]

    assert above == []
    assert len(limits) > 50


def test_each_group_has_its_rows_each_with_a_source():
    for group, least in GROUPS.items():
        rows = formulary(group)
        assert len(rows) >= least, group
    for row in ROWS.values():
        if row["topic"] == "formulary":
            assert row["source"], row["id"]
            assert row["how_obtained"] in ("read-in-source", "worked-out-by-hand", "from-memory"), row["id"]


@pytest.mark.parametrize(
    ("row", "lower"),
    [("OBS-001", 4), ("OBS-033", 5), ("LNG-012", 40), ("ANT-010", 5), ("ANT-027", 2), ("SLT-006", 100)],
)
def test_the_conservative_set_takes_the_lower_end_of_a_published_range(row, lower):
    """4-6 g, 5-10 mg, 40 then 80 mg, 3-10 mg, 2 to 10 units/kg/h, 100-150 mL."""
    found, usual = (said(ROWS[row], rules).value for rules in (CONSERVATIVE, RULES))

    assert found == lower < usual == expected(ROWS[row]).value
