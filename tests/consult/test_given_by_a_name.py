"""What was told by a name stands on a line of its own, however it counts for a treatment of the rules."""

from __future__ import annotations

from consult.case.given import totals
from dosing.ground.facts import Amount, Dose
from tests.dosing.bedside import RULES, ago, facts


def test_the_totals_add_a_name_to_no_other_line():
    told = Dose(id="told", treatment="other", name="Narcan", given_at=ago(20), amount=Amount(3.8, "mg"), prior=True)
    own = Dose(id="own", treatment="naloxone", given_at=ago(9), route="IV", amount=Amount(0.4, "mg"))

    lines = totals(facts(doses=(told, own)), RULES)

    assert [(each.title, each.total) for each in lines] == [("Narcan", told.amount), ("naloxone", own.amount)]
