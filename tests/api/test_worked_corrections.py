"""An entry that is marked as entered in error stays visible and leaves every computation (contract, "Correction")."""

import pytest

from tests.api.conftest import refused
from tests.api.story import Story, codes, minute
from tests.api.test_worked_times import INTERVALS, RUNNING
from tests.api.worked import amount
from tests.depth import thinned

PUSH, FLUID, DRIP = "epinephrine-push-dose", "crystalloid-bolus", "norepinephrine-infusion"
COMPUTED = ("goal", "vitals", "trend", "map_slope", "crossing_at", "fluids", "given", "running", "responses")
COMPUTED += ("reassessments", "orders", "access", "in_hand", "alerts", "below_goal")
LOW, BETTER = {"sbp": 80, "dbp": 40}, {"sbp": 120, "dbp": 80}  # MAP 53.33 and 93.33


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


def computed(story):
    """All that the card works out and what may be given next, without the names of alerts."""
    card = story.card()
    alerts = sorted((alert["kind"], alert["priority"], alert["text"]) for alert in card["alerts"])
    return {name: card[name] for name in COMPUTED} | {"alerts": alerts, "guidance": story.guidance()}


def test_a_dose_in_error_of_every_treatment_leaves_all_as_if_it_had_never_been(story):
    """The same case without the dose is the yardstick: totals, counts, next dose, reading, response, bag and alerts."""
    story.open(impression="hemorrhagic").read(at=-1, **LOW)
    story.at(4).read(at=3, **BETTER)
    never, wrong = computed(story), []
    for treatment, (dose, _) in thinned(INTERVALS.items(), every=4):
        story.open(impression="hemorrhagic").read(at=-1, **LOW)
        running = {"status": "running", "container_ml": 250} if treatment in RUNNING else {}
        strength = {"concentration": "16 mcg/mL"} if treatment == DRIP else {}
        given = story.give(treatment, dose, **running, **strength)
        story.at(4).read(at=3, **BETTER)
        story.correct("intervention", given)
        found = computed(story)
        left = [name for name in never if found[name] != never[name]]
        shown = story.crew.get(f"interventions/{given['id']}/").json()
        if left or (shown["in_error"], shown["reassessment"]) != (True, None):
            wrong.append((treatment, left, shown))
    assert wrong == []


def test_sums_without_the_dose_in_error(story):
    """Pushes of 10, 20 and 30 mcg, the last in error: 2 of 5 and 30 of 100 mcg; 500 and 250 mL, the latter in error."""
    story.open().read(at=-1, **LOW)
    doses = [story.give(PUSH, f"{size} mcg", at=start) for start, size in ((-9, 10), (-6, 20), (-3, 30))]
    boluses = [story.give(FLUID, f"{size} mL", at=start, over_min=5) for start, size in ((-19, 500), (-10, 250))]
    assert minute(story.guidance()[PUSH]["next_at"]) == -1
    for wrong in (doses[2], boluses[1]):
        story.correct("intervention", wrong)
    card, left = story.card(), story.guidance()
    pushes = next(line for line in card["given"] if line["treatment"] == PUSH)

    assert (pushes["count"], pushes["total"], minute(pushes["last_at"])) == (2, {"value": 30, "unit": "mcg"}, -6)
    assert (left[PUSH]["left"]["count"], left[PUSH]["left"]["total"]["value"]) == (3, 70)
    assert minute(left[PUSH]["next_at"]) == -4
    # 500 mL of the 1,000 mL that one bolus may be: 6.25 mL/kg, two whole ones and 2,500 of 3,000 mL left
    fluids = {"total_ml": 500, "ml_per_kg": 6.25, "boluses": 1, "boluses_left": 2, "counted_whole": ""}
    assert card["fluids"] == fluids
    total = {"value": 2500, "unit": "mL"}
    assert left[FLUID]["left"] == {"count": None, "of": None, "total": total, "counted_whole": ""}


def test_a_flag_goes_from_the_history_with_the_last_dose_that_was_flagged(story, cast):
    def flagged():
        return len(cast.supervisor.get("history/?outside_limits=true").json()["results"])

    story.open()
    doses = [story.give(PUSH, "30 mcg", at=start) for start in (-9, -5)]
    seen = [flagged()]
    for wrong in doses:
        story.correct("intervention", wrong)
        seen.append(flagged())
    assert seen == [1, 1, 0]


def test_what_runs_ends_with_its_correction_and_the_next_rate_is_refused(story):
    drip = story.open().give(DRIP, "0.1 mcg/kg/min", status="running", concentration="16 mcg/mL", container_ml=250)
    assert [line["left"]["value"] for line in story.card()["in_hand"]] == [250]
    rate = {"concentration": "16 mcg/mL", "new_rate": True}
    assert "starts_by_order" not in codes(story.check(DRIP, "0.2 mcg/kg/min", **rate))
    story.correct("intervention", drip)

    assert (story.card()["running"], story.card()["in_hand"]) == ([], [])
    assert "starts_by_order" in codes(story.check(DRIP, "0.2 mcg/kg/min", **rate))
    change = {"at": story.time(None), "amount": amount("0.2 mcg/kg/min")}
    refused(story.crew.post(f"interventions/{drip['id']}/changes/", change), 409, "wrong-state")


def test_vitals_in_error_leave_pressure_response_trend_alert_and_reading(story):
    """MAP 53.33 before a push; 120/80 (93.33) after it in error, then 90/60 (70)."""
    story.open().read(at=-1, **LOW)
    push = story.give(PUSH, "10 mcg")
    wrong = story.at(2).read(hr=100, lungs="crackles", glucose_mg_dl=40, **BETTER)
    assert "low_pressure" not in {alert["kind"] for alert in story.card()["alerts"]}
    assert (story.card()["responses"][0]["change"], story.asked(push)["state"]) == (40, "done")
    assert ("crackles" in codes(story.check(FLUID, "250 mL")), story.guidance()["dextrose"]["relevant"]) == (True, True)
    story.correct("vitals", wrong)
    card = story.card()

    assert (card["responses"], [point["t"][14:16] for point in card["trend"]]) == ([], ["59"])
    assert (card["vitals"]["derived"]["map"], card["vitals"].keys() & {"hr", "lungs"}) == (53.33, set())
    assert [alert["kind"] for alert in card["alerts"]] == ["low_pressure"]
    assert story.asked(push)["state"] == "waiting"
    assert ("crackles" in codes(story.check(FLUID, "250 mL")), story.guidance()["dextrose"]["relevant"]) == (
        False,
        False,
    )
    story.at(2.5).read(sbp=90, dbp=60)
    assert (story.card()["responses"][0]["change"], story.asked(push)["state"]) == (16.67, "done")


def test_a_procedure_and_a_note_in_error_are_shown_and_count_for_nothing(story):
    story.open()
    made = {"at": story.time(None), "procedure": "iv_access", "site": "left arm", "gauge": 18, "outcome": "done"}
    access = story.posted(f"cases/{story.case}/procedures/", made)
    note = story.posted(f"cases/{story.case}/notes/", {"at": story.time(None), "text": "pale"})
    assert [line["gauge"] for line in story.card()["access"]] == [18]
    for kind, entry in (("procedure", access), ("note", note)):
        story.correct(kind, entry)
    lines = story.physician.get(f"cases/{story.case}/journal/").json()["results"]

    assert story.card()["access"] == []
    assert [line["kind"] for line in lines if line["kind"] != "alert.raised"] == [
        *("case.opened", "procedure.recorded", "note.added", "entry.corrected", "entry.corrected"),
    ]
    assert {line["data"]["reason"] for line in lines if line["kind"] == "entry.corrected"} == {"wrong patient"}


def test_a_correction_is_made_once_and_of_this_case_only(story):
    elsewhere = story.open().give(PUSH, "10 mcg")
    dose = story.open().give(PUSH, "10 mcg")
    story.correct("intervention", dose)
    path = f"cases/{story.case}/corrections/"

    def again(kind, entry):
        return story.crew.post(path, {"target": {"kind": kind, "id": entry["id"]}, "reason": "twice"})

    refused(again("intervention", dose), 409, "wrong-state")
    refused(again("intervention", elsewhere), 422, pointer="/target/id")
    refused(again("vitals", dose), 422, pointer="/target/id")
    refused(again("correction", dose), 422, pointer="/target/kind")
    body = {"id": dose["id"], "given_at": story.time(None), **story.dose(PUSH, "10 mcg")}
    repeated = story.crew.post(f"cases/{story.case}/interventions/", body)  # a retry brings nothing back
    assert (repeated.status_code, repeated.json()["in_error"], story.card()["given"]) == (200, True, [])
