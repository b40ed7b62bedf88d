"""Contract, "Store and forward": in order, each entry on its own, the same as if it had been sent alone."""

import pytest
from django.db import OperationalError

from api.views.batch import ACTIONS
from tests.api.conftest import ago, mcg, new_id, push_dose, refused, request, vitals
from tests.conftest import ADULT


def send(cast, *entries, by="crew", **more):
    answer = getattr(cast, by).post("batch/", {"sent_at": ago(seconds=0), "entries": list(entries), **more})
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def statuses(results):
    return [result["status"] for result in results]


def entry(kind, body, **about):
    return {"kind": kind, **body, **about}


def opening(case):
    return entry("case", {"id": case, "opened_at": ago(minutes=9), "patient": ADULT, "complaint": "faint"})


def test_a_whole_consult_at_once(cast):
    case, order, dose, note = (new_id() for _ in range(4))
    results = send(
        cast,
        opening(case),
        entry("patch", {"id": new_id(), "destination": "Mere General"}, case=case),
        entry("vitals", vitals(sbp=88, dbp=44), case=case),
        entry("procedure", {"id": new_id(), "procedure": "iv_access", "outcome": "done"}, case=case),
        entry("intervention", {**push_dose(), "id": dose}, case=case),
        entry("order", {**request(), "id": order}, case=case),
        entry("withdraw", {"id": new_id(), "reason": "pressure is back"}, order=order),
        entry("note", {"id": note, "text": "awake"}, case=case),
        entry(
            "correction", {"id": new_id(), "target": {"kind": "note", "id": note}, "reason": "other patient"}, case=case
        ),
    )
    assert statuses(results) == [201, 200, 201, 201, 201, 201, 200, 201, 201], results
    seqs = [result["seq"] for result in results]
    assert seqs == sorted(set(seqs)), "in order"
    card = cast.physician.get(f"cases/{case}/").json()
    assert card["destination"] == "Mere General"
    assert card["given"][0]["count"] == 1
    assert card["orders"] == []


def test_steps_of_orders_and_infusions(cast, case):
    order, drip = new_id(), new_id()
    cast.physician.post(f"cases/{case}/orders/", {**request(), "id": order})
    running = {**push_dose(), "id": drip, "treatment": "norepinephrine-infusion", "status": "running"}
    running |= {"amount": {"value": 8, "unit": "mcg/min"}, "concentration": {"value": 16, "unit": "mcg/mL"}}
    cast.crew.post(f"cases/{case}/interventions/", running)
    said = {"id": new_id(), "treatment": "epinephrine-push-dose", "route": "IV", "amount": mcg(30)}
    results = send(
        cast,
        entry("readback", said, order=order),
        entry("not_given", {"id": new_id(), "reason": "pressure is back"}, order=order),
        entry("change", {"id": new_id(), "status": "stopped", "at": ago(seconds=0)}, intervention=drip),
    )
    assert statuses(results) == [200, 200, 201], results


def test_one_bad_entry_costs_no_other_and_again_is_200(cast):
    case, bad = new_id(), vitals(sbp=9000)
    entries = [
        opening(case),
        entry("vitals", vitals(hr=90), case=case),
        entry("vitals", bad, case=case),
        entry("note", {"id": new_id(), "text": "on"}, case=case),
    ]
    first, again = send(cast, *entries), send(cast, *entries)
    assert statuses(first) == [201, 201, 422, 201]
    assert statuses(again) == [200, 200, 422, 200]
    assert [result.get("seq") for result in first] == [result.get("seq") for result in again]
    assert first[2]["id"] == bad["id"]
    assert first[2]["problem"]["errors"][0]["pointer"] == "/sbp"


def test_what_depends_on_a_refused_entry_is_refused_on_its_own(cast):
    case, order = new_id(), new_id()
    refused_opening = {**opening(case), "patient": {}}
    results = send(
        cast,
        refused_opening,
        entry("vitals", vitals(hr=90), case=case),
        entry("withdraw", {"id": new_id(), "reason": "late"}, order=order),
        entry("change", {"id": new_id(), "status": "stopped"}, intervention=new_id()),
    )
    assert statuses(results) == [422, 404, 404, 404]


@pytest.mark.parametrize("alone_first", [True, False], ids=["alone, then in a batch", "in a batch, then alone"])
def test_alone_or_in_a_batch_is_the_same_entry(cast, case, alone_first):
    body = vitals(sbp="96", dbp=44)
    ways = [
        lambda: cast.crew.post(f"cases/{case}/vitals/", body),
        lambda: send(cast, entry("vitals", body, case=case))[0],
    ]
    first, second = [way() for way in (ways if alone_first else reversed(ways))]
    found = [each["status"] if isinstance(each, dict) else each.status_code for each in (first, second)]
    seqs = [each["seq"] if isinstance(each, dict) else each.json()["seq"] for each in (first, second)]
    assert found == [201, 200]
    assert seqs[0] == seqs[1]


def test_an_id_used_twice_in_one_batch_is_409(cast, case):
    body = vitals(hr=90)
    results = send(cast, entry("vitals", body, case=case), entry("vitals", {**body, "hr": 91}, case=case))
    assert statuses(results) == [201, 409]
    assert results[1]["problem"]["type"] == "id-reused"


@pytest.mark.parametrize(
    ("bad", "pointer"),
    [
        pytest.param("vitals", "", id="no object"),
        pytest.param(None, "", id="null"),
        pytest.param({"id": new_id()}, "/kind", id="no kind"),
        pytest.param({"kind": "goal", "id": new_id()}, "/kind", id="a kind that is for no batch"),
        pytest.param({"kind": ["vitals"], "id": new_id()}, "/kind", id="a kind that is no text"),
        pytest.param({"kind": "vitals", "id": new_id(), "taken_at": ago(minutes=1), "hr": 80}, "/case", id="no case"),
        pytest.param(
            {"kind": "vitals", "case": "7", "id": new_id(), "taken_at": ago(minutes=1), "hr": 80},
            "/case",
            id="no id of a case",
        ),
        pytest.param({"kind": "vitals", "case": new_id(), "taken_at": ago(minutes=1), "hr": 80}, "/id", id="no id"),
        pytest.param({"kind": "readback", "id": new_id(), "case": new_id()}, "/order", id="no order"),
        pytest.param({"kind": "change", "id": new_id(), "status": "stopped"}, "/intervention", id="no intervention"),
        pytest.param(
            {"kind": "note", "id": new_id(), "case": new_id(), "text": "a", "txt": "b"}, "/txt", id="misspelt"
        ),
    ],
)
def test_an_entry_that_cannot_be_read_is_422_there(cast, case, bad, pointer):
    results = send(cast, bad, entry("note", {"id": new_id(), "text": "on"}, case=case))
    assert statuses(results) == [422, 201]
    assert pointer in {error["pointer"] for error in results[0]["problem"]["errors"]}


def test_entries_keep_to_who_may_do_what(cast, case):
    note = entry("note", {"id": new_id(), "text": "mine"}, case=case)
    assert statuses(send(cast, note, by="crew2")) == [404]
    assert statuses(send(cast, note, by="outsider_crew")) == [404]
    order = request()
    cast.crew.post(f"cases/{case}/orders/", order)
    said = {"id": new_id(), "treatment": "epinephrine-push-dose", "route": "IV", "amount": mcg(30)}
    assert statuses(send(cast, entry("readback", said, order=order["id"]), by="physician")) == [403]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"entries": []}, "/sent_at"),
        ({"sent_at": ago(seconds=0)}, "/entries"),
        ({"sent_at": "2030-01-05T10:00:00", "entries": []}, "/sent_at"),
        ({"sent_at": ago(seconds=0), "entries": {}}, "/entries"),
        ({"sent_at": ago(seconds=0), "entries": [{}] * 201}, "/entries"),
        ({"sent_at": ago(seconds=0), "entries": [], "extra": 1}, "/extra"),
    ],
    ids=["no sent_at", "no entries", "sent_at without offset", "entries no list", "201 entries", "misspelt"],
)
def test_a_batch_that_cannot_be_read_is_422(cast, body, pointer):
    refused(cast.crew.post("batch/", body), 422, pointer=pointer)


def test_200_entries_are_carried_out(cast, case):
    notes = [entry("note", {"id": new_id(), "text": f"{number}"}, case=case) for number in range(200)]
    assert set(statuses(send(cast, *notes))) == {201}


def test_an_empty_batch_is_nothing(cast):
    assert send(cast) == []


def test_times_are_corrected_by_the_senders_clock(cast, case):
    ahead = {"id": new_id(), "taken_at": ago(minutes=-29), "hr": 80}
    kept = send(cast, entry("vitals", ahead, case=case), sent_at=ago(minutes=-30))
    later = {"id": new_id(), "taken_at": ago(minutes=-29), "hr": 81}
    assert statuses(kept) == [201]
    assert statuses(send(cast, entry("vitals", later, case=case))) == [422]


@pytest.mark.parametrize(
    ("minutes", "raised"), [(1, False), (3, True), (-3, True)], ids=["1 min", "3 min behind", "3 min ahead"]
)
def test_a_clock_more_than_2_minutes_off_raises_an_alert_for_the_supervisor(cast, case, minutes, raised):
    body = entry("note", {"id": new_id(), "text": "on"}, case=case)
    send(cast, body, sent_at=ago(minutes=minutes))
    kinds = {alert["kind"] for alert in cast.supervisor.get(f"alerts/?case={case}").json()["results"]}
    assert ("clock_offset" in kinds) == raised


@pytest.mark.parametrize(("ahead", "raised"), [(1, False), (3, True)], ids=["1 min", "3 min"])
def test_a_write_of_its_own_tells_of_the_senders_clock_too(cast, case, ahead, raised):
    body = {**vitals(hr=80), "taken_at": ago(minutes=-ahead), "sent_at": ago(minutes=-ahead)}
    assert cast.crew.post(f"cases/{case}/vitals/", body).status_code == 201
    kinds = {alert["kind"] for alert in cast.supervisor.get(f"alerts/?case={case}").json()["results"]}
    assert ("clock_offset" in kinds) == raised
    assert "clock_offset" not in {alert["kind"] for alert in cast.physician.get(f"cases/{case}/").json()["alerts"]}
    assert cast.physician.get(f"cases/{case}/journal/").json()["results"][1]["data"]["clock_offset_s"] == -60 * ahead


def test_what_a_step_of_an_order_causes_is_raised_with_the_batch_that_names_no_case(cast, case):
    order = new_id()
    cast.physician.post(f"cases/{case}/orders/", {**request(), "id": order})
    said = {"id": new_id(), "treatment": "epinephrine-push-dose", "route": "IV", "amount": mcg(300)}
    send(cast, entry("readback", said, order=order))
    assert "readback_mismatch" in {alert["kind"] for alert in cast.physician.get(f"cases/{case}/").json()["alerts"]}


def test_an_entry_about_another_case_than_it_says_is_refused(cast, case):
    order, other = new_id(), new_id()
    cast.physician.post(f"cases/{case}/orders/", {**request(), "id": order})
    said = {"treatment": "epinephrine-push-dose", "route": "IV", "amount": mcg(30)}
    entries = [entry("readback", {**said, "id": new_id()}, order=order, case=each) for each in (other, case)]

    _, other_case, its_own = send(cast, opening(other), *entries)

    assert (other_case["status"], other_case["problem"]["errors"][0]["pointer"]) == (422, "/case")
    assert its_own["status"] == 200
    assert cast.physician.get(f"orders/{order}/").json()["state"] == "read_back"


def test_once_the_database_is_away_the_rest_waits_with_what_it_follows(cast, case, monkeypatch):
    def away(*_, **__):
        raise OperationalError("the connection is closed")

    opened, later_one = new_id(), entry("note", {"id": new_id(), "text": "on"}, case=case)
    monkeypatch.setitem(ACTIONS, "case", away)
    kept = [later_one, opening(opened), entry("vitals", vitals(hr=80), case=opened)]
    assert statuses(send(cast, *kept)) == [201, 503, 503]
    monkeypatch.undo()
    assert statuses(send(cast, *kept)) == [200, 201, 201]
