"""Every alert as a person reads it: kind, cause, priority, words and since when, each worked by hand.

Kinds and priorities: contract, "Alerts". Waiting times: the demonstration rules (a request 3 min, a read-back of what
must be drawn up 4 min, a unit 5 min without data, the reading after a push due 2 min after it and overdue 3 min later).
"""

import pytest

from dosing.ground.facts import Amount, Container, Countersign, Dose, Order, Rate
from dosing.load.reader import load_shipped
from dosing.patient.reassess import opened_by
from dosing.watch.causes import Cause, watch
from tests.copying import replace
from tests.dosing.cast import at, case, mean, push, reading

RULES = load_shipped("demonstration")
FIRST = push(0)
BOLUS = Dose(id="bolus", treatment="crystalloid-bolus", given_at=at(-15), over_min=15)
DUE, BOLUS_DUE = (replace(opened_by(dose, RULES), id=dose.id) for dose in (FIRST, BOLUS))


def order(state, treatment="epinephrine-push-dose", **more):
    return Order(id="order", treatment=treatment, state=state, **more)


def by_voice(minutes):
    return Countersign(
        id=f"dose {minutes}",
        shown="fentanyl 50 mcg IV",
        physician="dr-1",
        by="Dr. One",
        ordered_at=at(0),
        since=at(minutes),
    )


# 8 mcg/min of 16 mcg per mL are 30 mL/h: 30 mL last an hour.
BAG = Container(
    id="bag",
    form="bag",
    at=at(0),
    treatment="norepinephrine-infusion",
    strength=Amount(16, "mcg/mL"),
    volume=Amount(30, "mL"),
)
RUNS = Dose(
    id="bag",
    treatment="norepinephrine-infusion",
    given_at=at(0),
    status="running",
    amount=Amount(8, "mcg/min"),
    rates=(Rate(at(0), Amount(8, "mcg/min")),),
)


def after_push(**seen):
    return {"readings": (reading(-1, hr=100, rhythm="sinus"), reading(2, **seen)), "doses": (FIRST,)}


NO_READING = "No pressure after EPINEPHrine push dose, due 10:02 UTC"
PARALYZED = "paralyzed by rocuronium"
PRESSOR = "after EPINEPHrine push dose"
ALERTS = [
    (
        {"readings": (mean(0, 54),)},
        1,
        ("low_pressure", "pressure", "high", "MAP critical, goal 65", 0),
    ),
    (
        {"readings": (mean(0, 62), mean(2, 61))},
        3,
        ("low_pressure", "pressure", "medium", "MAP below goal 65", 2),
    ),
    (
        {"readings": (mean(0, 80), mean(3, 77), mean(6, 74))},
        7,
        ("falling", "pressure", "medium", "MAP falling toward the goal", 6),
    ),
    (
        {"not_accepted_since": at(1)},
        4,
        ("not_accepted", "control", "medium", "No physician has control since 10:01 UTC", 4),
    ),
    (
        {"readings": (mean(0, 90),), "last_contact_at": at(16)},
        17,
        ("no_vitals", "pressure", "medium", "No pressure since 10:00 UTC", 17),
    ),
    (
        {"doses": (Dose(id="rocuronium", treatment="rocuronium", given_at=at(1)),)},
        4,
        ("no_sedation", "sedation", "high", f"No sedative or opioid given, {PARALYZED} 10:01 UTC: perhaps awake", 3),
    ),
    (
        {"moved_not_seen_since": at(1)},
        4,
        ("moved_not_seen", "crew", "medium", "Moved here 10:01 UTC, no crew of this unit has opened the case", 4),
    ),
    (after_push(hr=150), 3, ("after_pressor", "fast", "high", f"Heart rate above 140 {PRESSOR}", 2)),
    (after_push(hr=50), 3, ("after_pressor", "slow", "high", f"Heart rate below 60 {PRESSOR}", 2)),
    (after_push(sbp=190, dbp=100), 3, ("after_pressor", "systolic", "high", f"Systolic above 180 {PRESSOR}", 2)),
    (
        {"readings": (reading(0, 222, 90),)},
        1,
        ("high_pressure", "pressure", "high", "Systolic dangerously high (220 or more)", 0),
    ),
    (
        {"readings": (reading(0, 205, 90), reading(2, 204, 92))},
        3,
        ("high_pressure", "pressure", "medium", "Systolic high (200 or more)", 2),
    ),
    (after_push(rhythm="VT"), 3, ("after_pressor", "rhythm", "high", f"Ventricular tachycardia {PRESSOR}", 2)),
    (
        {"doses": (FIRST,), "reassessments": (DUE,)},
        5,
        ("reassessment_overdue", "reassessment", "high", NO_READING, 5),
    ),
    (
        {"doses": (BOLUS,), "reassessments": (BOLUS_DUE,)},
        3,
        ("reassessment_overdue", "reassessment", "medium", "No pressure after crystalloid bolus, due 10:00 UTC", 2),
    ),
    (
        {"reassessments": (DUE,)},  # its dose was entered in error meanwhile
        5,
        ("reassessment_overdue", "reassessment", "medium", NO_READING, 5),
    ),
    (
        {"orders": (order("requested", waiting_since=at(2)),)},
        5,
        ("order_waiting", "order", "medium", "Request for EPINEPHrine push dose waiting since 10:02 UTC", 5),
    ),
    (
        {"orders": (order("approved", to_read_back_from=at(2)),)},
        6,
        ("readback_waiting", "order", "medium", "Order for EPINEPHrine push dose not read back since 10:02 UTC", 6),
    ),
    (
        {
            "orders": (
                order("approved", "norepinephrine-infusion", to_read_back_from=at(2), amount=Amount(0.1, "mcg/kg/min")),
            )
        },
        6,
        (
            "readback_waiting",
            "order",
            "medium",
            "Order for norepinephrine infusion 0.1 mcg/kg/min not read back since 10:02 UTC",
            6,
        ),
    ),
    (
        {"orders": (order("approved", to_read_back_from=at(2), amount=Amount(10, "mcg")),)},
        6,
        ("readback_waiting", "order", "medium", "Order for EPINEPHrine push dose not read back since 10:02 UTC", 6),
    ),
    (
        {
            "orders": (
                order("approved", "other", title="heparin", to_read_back_from=at(2), amount=Amount(900, "units/h")),
            )
        },
        6,
        ("readback_waiting", "order", "medium", "Order for heparin 900 units/h not read back since 10:02 UTC", 6),
    ),
    (  # asked for at 10:00 and approved since: now it is the crew who must read it back
        {"orders": (order("approved", waiting_since=at(0), to_read_back_from=at(2)),)},
        6,
        ("readback_waiting", "order", "medium", "Order for EPINEPHrine push dose not read back since 10:02 UTC", 6),
    ),
    (
        {"orders": (order("approved", waiting_since=at(2), waits_for_cosign=True),)},
        5,
        (
            "order_waiting",
            "order",
            "medium",
            "Order for EPINEPHrine push dose waits for a second physician since 10:02 UTC",
            5,
        ),
    ),
    (
        {"orders": (order("approved", to_read_back_from=at(1), misread_at=at(2)),)},
        3,
        ("readback_mismatch", "order", "high", "Read-back of EPINEPHrine push dose does not match the order", 2),
    ),
    (
        {"orders": (order("requested", "enalaprilat", waiting_since=at(2)),)},  # the rule set does not name it
        5,
        ("order_waiting", "order", "medium", "Request for enalaprilat waiting since 10:02 UTC", 5),
    ),
    (
        {"last_contact_at": at(-2)},
        3,
        ("no_contact", "contact", "medium", "No data from unit since 09:58 UTC", 3),
    ),
    (
        {"readings": (reading(0, gcs=9), reading(2, gcs=10))},
        3,
        ("vital_sign", "alertness", "medium", "Barely responsive (GCS 10 or less)", 2),
    ),
    (
        {"countersigns": (by_voice(1),), "heard_of_at": at(60)},
        60.99,
        ("countersign_waiting", "dr-1", "low", "Ordered by voice, for Dr. One to countersign: fentanyl 50 mcg IV", 1),
    ),
    (
        {"countersigns": (by_voice(4), by_voice(1)), "heard_of_at": at(60)},
        61,
        ("countersign_waiting", "dr-1", "medium", "Ordered by voice, for Dr. One to countersign: 2 doses", 1),
    ),
    (
        {"containers": (BAG,), "doses": (RUNS,), "readings": (mean(0, 90), mean(55, 90)), "eta": at(62)},
        56,
        (
            "pressor_running_out",
            "norepinephrine-infusion",
            "high",
            "norepinephrine infusion lasts to 11:00 UTC, arrival 11:02 UTC",
            0,
        ),
    ),
]


@pytest.mark.parametrize(("known", "now", "alert"), ALERTS, ids=lambda value: value[0] if type(value) is tuple else "")
def test_an_alert(known, now, alert):
    kind, cause, priority, words, since = alert
    facts = case(*known.get("readings", ()), **({"last_contact_at": at(now)} | known))

    assert watch(facts, RULES, at(now)).causes == (Cause(kind, cause, priority, words, at(since)),)


def test_a_case_in_which_all_is_well_has_none():
    well = case(mean(0, 80), doses=(FIRST,), reassessments=(replace(DUE, done_at=at(2), state="done"),))

    assert watch(well, RULES, at(4)).causes == ()


@pytest.mark.parametrize(
    ("heard", "now", "silent"), [(6, 12, False), (8, 12.99, False), (8, 13, True), (9, 13.99, False)]
)
def test_once_the_unit_is_heard_after_the_gap_began_coverage_is_back(heard, now, silent):
    """The gap was announced until 10:20; what is heard from 10:08 on ends it, and 5 min later silence is news again."""
    known = case(last_contact_at=at(heard), no_coverage_until=at(20), coverage_back_from=at(8))

    assert [each.kind for each in watch(known, RULES, at(now)).causes] == (["no_contact"] if silent else [])


def test_every_reassessment_out_of_reach_is_unknown():
    """Last heard at 09:59, lost at 10:04: neither reading may be called missing, both may have been taken."""
    silent = case(doses=(FIRST, BOLUS), reassessments=(DUE, BOLUS_DUE), last_contact_at=at(-1))
    found = watch(silent, RULES, at(5))

    assert (found.unknown, found.overdue) == (("first push", "bolus"), ())
