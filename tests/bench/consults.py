"""Fills a database with consults as large as real ones; prints who posts where. Run by `ours.prepare`."""

from __future__ import annotations

import json
import sys
from datetime import timedelta
from typing import Any
from uuid import uuid4

import django

PHYSICIANS = 5  # each with as many of the hundred boards as one may have open
PATIENT = {
    "age": {"value": 58, "unit": "years", "basis": "stated"},
    "sex": "male",
    "weight": {"value": 80, "unit": "kg", "basis": "stated"},
}


def fill(unit: Any, now: Any) -> str:
    """A consult of an hour: sixty sets, three boluses, five push doses, a procedure, an order that waits."""
    from consult.actions import cases, interventions, notes, orders, vitals

    start, case = now - timedelta(minutes=60), uuid4()
    first = {"id": case, "opened_at": start, "patient": PATIENT, "complaint": "fever, confused", "impression": "septic"}
    cases.open_case(unit, first, now)
    access = {"id": uuid4(), "procedure": "iv_access", "at": start, "outcome": "done", "gauge": 18}
    notes.add_procedure(unit, case, access, now)
    for minute in range(60):
        at = start + timedelta(minutes=minute)
        taken = {"sbp": 84 + minute % 20, "dbp": 44 + minute % 11, "hr": 120, "rr": 22, "spo2": 94, "etco2": 30}
        vitals.record_vitals(unit, case, {"id": uuid4(), "taken_at": at, "lungs": "clear", **taken}, now)
    gifts = [
        ("crystalloid-bolus", 500, "mL", 2),
        ("crystalloid-bolus", 500, "mL", 18),
        ("crystalloid-bolus", 500, "mL", 30),
    ]
    gifts += [("epinephrine-push-dose", 10, "mcg", minute) for minute in (38, 42, 46, 50, 54)]
    for treatment, value, measure, minute in gifts:
        dose = {"treatment": treatment, "amount": {"value": value, "unit": measure}, "route": "IV"}
        given = {"id": uuid4(), "given_at": start + timedelta(minutes=minute), **dose}
        interventions.record_intervention(unit, case, given, now)
    wanted = {"treatment": "norepinephrine-infusion", "amount": {"value": 0.1, "unit": "mcg/kg/min"}, "route": "IV"}
    orders.request_order(
        unit, case, {"id": uuid4(), "at": now, "reason": "no response", "action": "start", **wanted}, now
    )
    return str(case)


def main(units: int) -> None:
    """Migrate, make the agency, and open a consult for each unit."""
    django.setup()
    from django.core.management import call_command

    from consult import access, clock
    from consult.actions import accounts

    call_command("migrate", verbosity=0)
    now = clock.now()
    agency = accounts.make_agency("Brindle Vale")
    physicians = [accounts.make_member(agency, "physician", name=f"Dr. {number}") for number in range(PHYSICIANS)]
    made: dict[str, Any] = {"physicians": [accounts.issue_token(each, now) for each in physicians], "units": []}
    for number in range(units):
        unit = accounts.make_unit(agency, f"Osprey {number}")
        token = accounts.issue_token(accounts.make_member(agency, "crew", unit=unit, name=f"crew {number}"), now)
        made["units"].append({"token": token, "case": fill(access.actor_for_token(token, now), now)})
    print(json.dumps(made))


if __name__ == "__main__":
    main(int(sys.argv[1]))
