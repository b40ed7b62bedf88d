"""Contract, "Ids are made by the client": what was stored and is sent again is answered with what was stored.

Also to the crew of a unit from which the patient has gone meanwhile ("404 where the object is, for crews, of another
unit" is for what it reads, and for what it had not told): a phone that got no answer sends its entry again.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.conftest import ago, new_id, push_dose, question, request, syringe, vitals

Sent = tuple[str, str, dict[str, Any]]  # the kind, the address, what was sent
LATER = "seen by the other crew alone"
PHYSICIAN = "said by the physician"


def steps(case: str) -> list[Sent]:
    """One of each kind that a crew tells of an open case, and between them what the physician must say first."""
    drip = push_dose(
        treatment="norepinephrine-infusion", amount={"value": 4, "unit": "mcg/min"}, status="running",
        concentration={"value": 16, "unit": "mcg/mL"}, container_ml=250,
    )  # fmt: skip
    mixed, asked, ended, put, unasked = syringe(), request(), request(20), question(), question()
    told, note = {"text": "Sit him up.", "id": new_id()}, {"text": "skin mottled", "id": new_id()}
    now, why, of = {"at": ago(seconds=1)}, {"reason": "line lost"}, f"cases/{case}"
    order, instruction = f"orders/{asked['id']}", f"instructions/{told['id']}"
    read = {"treatment": asked["treatment"], "route": asked["route"], "amount": asked["amount"]}
    wanted = [
        ("vitals", f"{of}/vitals/", vitals(sbp=84, dbp=40)),
        ("patch", f"{of}/", {"complaint": "weak, cold"}),
        ("intervention", f"{of}/interventions/", drip),
        ("change", f"interventions/{drip['id']}/changes/", {**now, "status": "stopped"}),
        ("container", f"{of}/containers/", mixed),
        ("discard", f"containers/{mixed['id']}/discard/", now),
        ("procedure", f"{of}/procedures/", {"procedure": "ecg_12", "outcome": "done"}),
        ("note", f"{of}/notes/", note),
        ("correction", f"{of}/corrections/", {**why, "target": {"kind": "note", "id": note["id"]}}),
        ("coverage", f"{of}/coverage/", {"until": ago(minutes=-10)}),
        ("question", f"{of}/questions/", put),
        ("question", f"{of}/questions/", unasked),
        ("withdraw_question", f"questions/{unasked['id']}/withdraw/", why),
        ("order", f"{of}/orders/", asked),
        (PHYSICIAN, f"{order}/decision/", {"decision": "ask", "text": "How often?"}),
        ("answer", f"{order}/answer/", {"text": "Twice."}),
        (PHYSICIAN, f"{order}/decision/", {"decision": "approve"}),
        ("readback", f"{order}/readback/", read),
        ("not_given", f"{order}/not_given/", why),
        ("order", f"{of}/orders/", ended),
        ("withdraw", f"orders/{ended['id']}/withdraw/", why),
        (PHYSICIAN, f"{of}/instructions/", told),
        ("understood", f"{instruction}/understood/", now),
        ("unable", f"{instruction}/unable/", {**now, **why}),
        ("phase", f"{of}/phase/", {**now, "phase": "arrest"}),
    ]
    return [(kind, address, {"id": new_id(), **body}) for kind, address, body in wanted]


def entries(cast: Any, case: str) -> list[Sent]:
    """What the crew has sent, each with the number that it was answered with."""
    told = []
    for kind, address, body in steps(case):
        answer = send(cast, kind, address, body)
        assert answer.status_code in (200, 201), (kind, answer.content)
        if kind != PHYSICIAN:
            told.append((kind, address, {**body, "seq": answer.json()["seq"]}))
    return told


def send(cast: Any, kind: str, address: str, body: dict[str, Any]) -> Any:
    content = {name: value for name, value in body.items() if name != "seq"}
    by = cast.physician if kind == PHYSICIAN else cast.crew
    return by.patch(address, content) if kind == "patch" else by.post(address, content)


def moved(cast: Any, case: str) -> Sent:
    """To the other unit by its crew, told as before the last entries; that crew then changes what is known."""
    move = {"id": new_id(), "unit": str(cast.crew2.member.unit_id), "at": ago(seconds=50)}
    answer = send(cast, "move", f"cases/{case}/move/", move)
    assert answer.status_code == 200, answer.content
    assert cast.crew2.patch(f"cases/{case}/", {"complaint": LATER}).status_code == 200
    return "move", f"cases/{case}/move/", {**move, "seq": answer.json()["seq"]}


def test_each_entry_of_before_is_answered_with_what_was_stored_and_with_nothing_of_later(cast, case):
    sent = [*entries(cast, case), moved(cast, case)]

    answers = [(kind, send(cast, kind, address, body), body["seq"]) for kind, address, body in sent]

    told = [(kind, each.status_code, each.json().get("seq")) for kind, each, _ in answers]
    assert told == [(kind, 200, seq) for kind, _, seq in answers]
    assert [kind for kind, each, _ in answers if LATER in each.content.decode()] == []
    assert cast.crew.get(f"cases/{case}/").status_code == 404
    fresh = cast.crew.patch(f"cases/{case}/", {"complaint": "not stored"})
    assert (fresh.status_code, fresh.json()["type"]) == (409, "wrong-state")


ABOUT = {"interventions": "intervention", "containers": "container", "questions": "question"}
ABOUT |= {"orders": "order", "instructions": "instruction"}


@pytest.mark.parametrize("names_the_case", [True, False])
def test_in_a_batch_likewise(cast, case, names_the_case):
    sent = [*entries(cast, case), moved(cast, case)]
    lines = []
    for kind, address, body in sent:
        table, uid, *_ = address.split("/")
        about = {} if table == "cases" else {ABOUT[table]: uid}
        of_case = {"case": case} if names_the_case or table == "cases" else {}
        lines.append({"kind": kind, **of_case, **about, **{name: body[name] for name in body if name != "seq"}})

    answer = cast.crew.post("batch/", {"sent_at": ago(seconds=0), "entries": lines}).json()["results"]

    assert [(line["kind"], each["status"], each.get("seq")) for line, each in zip(lines, answer, strict=True)] == [
        (kind, 200, body["seq"]) for kind, _, body in sent
    ]
