"""What a crew reads aloud at the handover: ISBAR's order, every number with its age, what runs, what is overdue."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from consult.actions import alerts, interventions, notes
from consult.render import shift
from consult.render.handover import handover
from tests.conftest import NOON, Consult, earlier, later
from tests.consult.test_arrest import done, phase, shock
from tests.consult.test_containers import change, hang, mix
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = pytest.mark.django_db
PUSH = "epinephrine-push-dose"
AN_HOUR_ON = later(minutes=60)


def told(consult: Consult, now: datetime = AN_HOUR_ON) -> dict[str, list[str]]:
    """The lines of each part as of ``now``, ages and clock times as HH:MM in UTC within marks."""
    return {part["name"]: ["".join(map(_text, line)) for line in part["lines"]] for part in handover(consult.card, now)}


def _text(piece: str | dict[str, str]) -> str:
    return piece if isinstance(piece, str) else "".join(f"<{name} {at[11:16]}>" for name, at in piece.items())


def test_it_follows_the_order_of_the_trade(consult: Consult) -> None:
    names = ["Identify", "Situation", "Background", "Assessment", "Given", "Running"]

    assert list(told(consult)) == names


def test_who_and_why_come_first(consult: Consult) -> None:
    parts = told(consult)

    assert parts["Identify"] == ["Kestrel 2: 58 y male, 80 kg measured"]
    assert parts["Situation"][0].startswith("Septic: ")
    assert parts["Background"][0] == "No allergies recorded"
    assert "code status" in parts["Background"][1]


def test_numbers_of_one_set_stand_together_with_their_age(consult: Consult) -> None:
    consult.vitals(sbp=74, dbp=44, hr=128, spo2=92, rr=28, cap_refill_s=5)
    consult.vitals(at=later(minutes=7), sbp=80, dbp=50, hr=118)

    assert told(consult)["Assessment"] == [
        "MAP 60, goal 65 · 80/50 mmHg <age 12:07>",
        "Before: 74/44 (MAP 54) <clock 12:00>",
        "HR 118 /min <age 12:07>",
        "SpO2 92 %, RR 28 /min <age 12:00>",
        "Signs: cap refill 5 s <age 12:00> · shock index 1.48 · heart rate 118",
        "below goal 7 min of 7 min, counted until <clock 12:07>",
    ]


def test_a_bolus_that_runs_is_said_to_be_counted_whole(consult: Consult) -> None:
    """560 mL for 80 kg are 7 mL/kg; while it runs nobody knows how much of it is in."""
    bolus = consult.give("crystalloid-bolus", 560, "mL", status="running")
    assert told(consult)["Given"] == ["Fluid in all 560 mL, 7 mL/kg, counting in full what runs"]

    ended = {"id": uuid4(), "at": later(minutes=5), "status": "finished"}
    interventions.change_intervention(consult.cast.osk, UUID(bolus.resource.id), ended, later(minutes=5))
    assert told(consult)["Given"][-1] == "Fluid in all 560 mL, 7 mL/kg"


def test_alike_doses_are_said_once_with_their_times(consult: Consult) -> None:
    for minute in (1, 4):
        consult.give(PUSH, 10, "mcg", at=later(minutes=minute))

    assert told(consult)["Given"] == ["EPINEPHrine push dose 10 mcg IV, <clock 12:01>, <clock 12:04>"]
    for minute in (7, 10):
        consult.give(PUSH, 10, "mcg", at=later(minutes=minute))

    assert told(consult)["Given"] == ["EPINEPHrine push dose 10 mcg IV, 4 times, <clock 12:01> to <clock 12:10>"]


def test_a_response_that_two_treatments_share_says_so(consult: Consult) -> None:
    consult.vitals(at=NOON, sbp=74, dbp=44)
    consult.give(PUSH, 10, "mcg", at=later(minutes=1))
    hang(consult, at=later(minutes=2))
    consult.vitals(at=later(minutes=4), sbp=90, dbp=54)

    (push,) = told(consult)["Given"]
    assert push.endswith("; MAP 54 to 66, overlapping treatments")


def test_a_pump_rate_that_is_told_twice_over_leaves_nothing_of_itself(consult: Consult) -> None:
    bag = {"concentration": {"value": 16, "unit": "mcg/mL"}, "container_ml": 250, "status": "running"}
    drip = UUID(consult.give("norepinephrine-infusion", 60, "mL/h", **bag).resource.id)
    change(consult, drip, later(minutes=4), status="stopped")

    (ran,) = told(consult)["Given"]
    assert ran.startswith("norepinephrine infusion of 16 mcg per mL IV, 0.2 mcg/kg/min = 60 mL/h from <clock 12:00>"), (
        ran
    )


def test_what_runs_has_its_rate_and_says_to_when_it_lasts(consult: Consult) -> None:
    hang(consult, 8, 100)

    first = told(consult)["Running"][0]
    assert first.startswith("norepinephrine infusion")
    assert ", since <clock 12:00>, 30 mL/h, lasts to <clock 15:20>" in first
    assert told(consult)["Given"] == ["nothing recorded"]


def test_what_must_be_discarded_before_it_is_empty_says_that_time(consult: Consult) -> None:
    """250 mL at 30 mL/h last to 20:20; what was mixed at noon is discarded after 4 h."""
    hang(consult, 8, 250)

    assert told(consult)["Running"][0].endswith(", 30 mL/h, discard by <clock 16:00>")


def test_what_ran_has_each_rate_with_its_time_and_its_end(consult: Consult) -> None:
    drip = hang(consult, 4)
    change(consult, drip, later(minutes=3), amount={"value": 8, "unit": "mcg/min"})
    change(consult, drip, later(minutes=4), status="stopped")

    assert told(consult)["Given"] == [
        "norepinephrine infusion of 16 mcg per mL IV, 4 mcg/min = 15 mL/h from <clock 12:00>, "
        "8 mcg/min = 30 mL/h from <clock 12:03>, "
        "stopped <clock 12:04>, 1.25 mL by its rates"  # 3 min of 4 and 1 min of 8 mcg/min are 20 mcg
    ]


def test_the_rates_of_a_line_are_in_one_unit_however_each_was_entered(consult: Consult) -> None:
    """60 mL/h of 16 mcg/mL are 16 mcg/min, 0.2 mcg/kg/min for 80 kg: worked by hand."""
    bag = {"concentration": {"value": 16, "unit": "mcg/mL"}, "container_ml": 250, "status": "running"}
    drip = UUID(consult.give("norepinephrine-infusion", 0.1, "mcg/kg/min", **bag).resource.id)
    change(consult, drip, later(minutes=3), amount={"value": 60, "unit": "mL/h"})
    change(consult, drip, later(minutes=6), amount={"value": 12, "unit": "mcg/min"})
    assert (
        "(before: 0.1 mcg/kg/min = 30 mL/h from <clock 12:00>, 0.2 mcg/kg/min = 60 mL/h from <clock 12:03>)"
        in told(consult)["Running"][0]
    )
    change(consult, drip, later(minutes=8), status="stopped")

    (ran,) = told(consult)["Given"]
    assert (
        "0.1 mcg/kg/min = 30 mL/h from <clock 12:00>, 0.2 mcg/kg/min = 60 mL/h from <clock 12:03>, "
        "0.15 mcg/kg/min = 45 mL/h from <clock 12:06>, stopped"
    ) in ran


def test_a_bolus_that_was_broken_off_says_what_went_in(consult: Consult) -> None:
    bolus = UUID(consult.give("crystalloid-bolus", 560, "mL", status="running").resource.id)
    change(consult, bolus, later(minutes=5), status="stopped", infused={"value": 200, "unit": "mL"})

    assert told(consult)["Given"][0] == (
        "crystalloid bolus 560 mL IV, <clock 12:00>, stopped <clock 12:05>, 200 of 560 mL went in"
    )


@pytest.mark.parametrize(
    ("more", "said"),
    [({}, "amount not stated, counted whole"), ({"over_min": 10}, "about 13 mL by its rate, counted whole")],
    ids=["without a time", "560 mL in 10 min: 14 s are 13 mL"],
)
def test_a_bolus_that_was_broken_off_without_an_amount_is_said_to_be_counted_whole(
    more: dict[str, Any], said: str, consult: Consult, signed_in: Sign
) -> None:
    bolus = UUID(consult.give("crystalloid-bolus", 560, "mL", status="running", **more).resource.id)
    change(consult, bolus, NOON + timedelta(seconds=14), status="stopped")

    dose, total = told(consult)["Given"]
    assert dose.endswith(f"stopped <clock 12:00>, {said}")
    in_full = "560 mL, 7 mL/kg, counting in full what was stopped without an amount"
    assert total == f"Fluid in all {in_full}"
    panel = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).one(data_part="given").text
    assert f"fluid {in_full}" in panel
    assert said in panel


def test_an_infusion_that_ended_or_is_held_says_at_which_low_pressure_and_why(
    consult: Consult, signed_in: Sign
) -> None:
    """Whoever treats the patient next must look at that arm; the crew's own lists say it in the same words."""
    consult.vitals(at=NOON, sbp=74, dbp=41)
    drip, why = hang(consult, 4), {"reason": "Swelling where it runs in"}
    change(consult, drip, later(minutes=2), status="held", **why)
    assert ", HELD since <clock 12:02> (Swelling where it runs in) (before: 4" in told(consult)["Running"][0]
    change(consult, drip, later(minutes=3), status="stopped", **why)

    end = " at MAP 52, goal 65 (Swelling where it runs in), 0.5 mL by its rates"
    assert told(consult)["Given"][0].endswith(", held from <clock 12:02>, stopped <clock 12:03>" + end)
    for page, part in (("", {"data_part": "given"}), ("correction/", {"id": "entry"})):
        assert end in read(signed_in("osk").get(f"/crew/{consult.uid}/{page}").text).one(**part).text
    assert end[:20] in read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).one(data_part="given").text


def test_a_bolus_from_a_bag_that_hangs_already_is_said_once(consult: Consult) -> None:
    consult.give("crystalloid-bolus", 500, "mL", at=NOON, container_ml=1000, over_min=10)
    consult.give("crystalloid-bolus", 250, "mL", at=later(minutes=12), status="running", over_min=5)
    running = told(consult)["Running"]

    assert len(running) == 2, running
    assert running[0].startswith("crystalloid bolus 250 mL IV over 5 min, since <clock 12:12>, 3,000 mL/h")


def test_a_way_in_that_failed_is_none(consult: Consult) -> None:
    for outcome, site in (("failed", "right hand"), ("done", "left elbow")):
        tried = {"id": uuid4(), "procedure": "iv_access", "at": NOON, "outcome": outcome, "gauge": 18, "site": site}
        notes.add_procedure(consult.cast.osk, consult.uid, tried, NOON)

    assert told(consult)["Running"][-1] == "Access: 18 G left elbow"


def test_an_overdue_reassessment_is_said(consult: Consult) -> None:
    consult.give(PUSH, 10, "mcg", at=NOON)
    consult.vitals(at=later(minutes=4), hr=104)
    alerts.sweep(later(minutes=5))

    assert told(consult)["Required"][0].startswith("Overdue, was due <clock 12:02>: pressure after ")


def test_a_reading_that_another_pressor_overtook_is_overdue_from_its_time_on(consult: Consult) -> None:
    for minutes in (0, 1):
        consult.give(PUSH, 10, "mcg", at=later(minutes=minutes))
    card = consult.card["reassessments"][0]
    assert (card["state"], card["due_at"][11:16]) == ("overdue", "12:02"), "the alert stands at once"

    said = {minutes: told(consult, later(minutes=minutes))["Required"][0][:29] for minutes in (1, 3)}
    assert said == {1: "Due by <clock 12:02>: pressur", 3: "Overdue, was due <clock 12:02"}
    waits = [shift.waits_for(consult.card, later(minutes=minutes))[0] for minutes in (1, 3)]
    assert waits == [
        "pressure after EPINEPHrine push dose, due by 12:02",
        "pressure after EPINEPHrine push dose, overdue since 12:02",
    ]


def test_what_is_in_hand_is_handed_on(consult: Consult) -> None:
    mix(consult)

    assert told(consult)["Required"] == ["In hand: EPINEPHrine push dose 10 mcg per mL, 10 mL syringe, 10 mL left"]


def test_the_page_tells_it_with_running_ages(consult: Consult, signed_in: Sign) -> None:
    consult.vitals(sbp=74, dbp=44)
    page = read(signed_in("osk").get(f"/crew/{consult.uid}/handover/").text).one(data_part="handover")

    assert "MAP 54, goal 65 · 74/44 mmHg" in page.text
    assert (page.one("age").attributes["data-age"] or "").endswith("12:00:00Z")


def test_it_says_how_many_are_overdue_besides_those_that_are_listed(consult: Consult) -> None:
    for number in range(14):
        consult.give(PUSH, 10, "mcg", at=later(minutes=2 * number))
    required = told(consult)["Required"]

    assert required[0] == "1 more overdue after EPINEPHrine push dose"
    assert len([line for line in required if line.startswith("Overdue, was due")]) == 12


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"glucose_mg_dl": 72}, "72 mg/dL (4 mmol/L)"),
        ({"glucose_mmol_l": 4}, "72 mg/dL (4 mmol/L)"),
        ({"glucose_mmol_l": 3.1}, "55.8 mg/dL (3.1 mmol/L)"),
        ({"glucose_mg_dl": 110}, "110 mg/dL (6.1 mmol/L)"),  # 6.11 by hand
    ],
)
def test_a_glucose_is_said_in_both_units(consult: Consult, sent: dict[str, float], said: str) -> None:
    consult.vitals(**sent)

    assert f"Glucose {said} <age 12:00>" in told(consult)["Assessment"]


def test_an_arrest_is_said_with_its_times_shocks_and_doses(consult: Consult) -> None:
    phase(consult, "arrest", later())
    done(consult, "cpr", later())
    for minutes, joules in ((2, 200), (4, 360)):
        shock(consult, later(minutes=minutes), joules)
    for minutes in (3, 7):
        consult.give("epinephrine-arrest", 1, "mg", at=later(minutes=minutes))
    assert told(consult)["Arrest"][0] == "Cardiac arrest <clock 12:00>, ongoing"

    for seconds, what in ((120, "cpr_pause"), (162, "cpr")):
        done(consult, what, later(seconds=seconds))
    phase(consult, "pulse_back", later(minutes=14))
    done(consult, "airway", later(minutes=15), site="tube 7.5", outcome="done")
    assert told(consult)["Arrest"] == [
        "Cardiac arrest <clock 12:00> to <clock 12:14>, 14 min, pulse is back",
        "1 pause in compressions, 42 s in all, compression fraction 95 %",
        "2 shocks, 200 J <clock 12:02>, 360 J <clock 12:04>",
        "EPINEPHrine, 2 doses of 1 mg, last <clock 12:07>",
    ]
    assert told(consult)["Done"] == ["Airway, tube 7.5, done, <clock 12:15>"]
    assert told(consult)["Required"][0] == ("Due <clock 12:17>: pressure, heart rate, SpO2 after the return of pulse")


def test_a_rhythm_from_before_the_return_of_pulse_is_not_told_as_the_present_one(
    consult: Consult, signed_in: Sign
) -> None:
    phase(consult, "arrest", later(minutes=1))
    consult.vitals(at=later(minutes=2), rhythm="ventricular fibrillation")
    assert "Rhythm ventricular fibrillation <age 12:02>" in told(consult)["Assessment"]

    phase(consult, "pulse_back", later(minutes=5))
    assert "Rhythm in arrest ventricular fibrillation <age 12:02>" in told(consult)["Assessment"]
    crew = read(signed_in("osk").get(f"/crew/{consult.uid}/").text).one(data_part="signs").text
    physician = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).one("now-others").text
    assert "Rhythm in arrest ventricular fibrillation" in crew
    assert "Rhythm in arrest ventricular fibrillation" in physician

    consult.vitals(at=later(minutes=6), rhythm="sinus tachycardia")
    assert "Rhythm sinus tachycardia <age 12:06>" in told(consult)["Assessment"]

    phase(consult, "arrest", later(minutes=9))
    assert "Rhythm before the arrest sinus tachycardia <age 12:06>" in told(consult)["Assessment"]


def test_an_arrest_of_seconds_is_told_in_seconds(consult: Consult) -> None:
    phase(consult, "arrest", later())
    phase(consult, "pulse_back", later(seconds=37))
    assert told(consult)["Arrest"][0] == "Cardiac arrest <clock 12:00> to <clock 12:00>, 37 s, pulse is back"


def test_one_without_a_shock_says_so(consult: Consult) -> None:
    phase(consult, "arrest", later())
    phase(consult, "ended", later(minutes=30))
    assert told(consult)["Arrest"] == [
        "Cardiac arrest <clock 12:00> to <clock 12:30>, 30 min, resuscitation ended",
        "no shocks",
    ]


def test_what_runs_tells_the_rates_before_this_one(consult: Consult) -> None:
    drip = hang(consult, 4)
    for minutes, rate in ((3, 8), (6, 6)):
        change(consult, drip, later(minutes=minutes), amount={"value": rate, "unit": "mcg/min"})

    assert (
        "(before: 4 mcg/min = 15 mL/h from <clock 12:00>, 8 mcg/min = 30 mL/h from <clock 12:03>), 22.5 mL/h"
        in (told(consult)["Running"][0])
    )


def test_a_dose_tells_the_pressure_before_and_after_it(consult: Consult) -> None:
    consult.vitals(at=earlier(minutes=1), sbp=74, dbp=44)
    consult.give(PUSH, 10, "mcg", at=NOON)
    consult.vitals(at=later(minutes=3), sbp=96, dbp=60)

    assert told(consult)["Given"] == ["EPINEPHrine push dose 10 mcg IV, <clock 12:00>; MAP 54 to 72"]


def test_the_last_pressures_stand_with_their_times(consult: Consult) -> None:
    """Of one with a mean that was measured it is said which of the two that is."""
    for minutes in range(8):
        mean = {"bp_method": "cuff", "map_reported": 60} if minutes == 6 else {}
        consult.vitals(at=later(minutes=minutes), sbp=80 + minutes, dbp=50, **mean)

    before = next(line for line in told(consult)["Assessment"] if line.startswith("Before: "))
    assert before.count("<clock") == 5
    assert before.startswith("Before: 86/50 (MAP 60 measured) <clock 12:06>, 85/50 (MAP 62) <clock 12:05>")
