"""Control, shift handover, move and gaps in coverage used wrongly: what each is answered, as a client reads it."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from tests.api.conftest import ago, named, new_id, push_dose, refused, vitals

Try = Callable[[SimpleNamespace], Any]


@pytest.fixture
def on(cast, case, open_case):
    """A case that the first physician has, offered to the second; one that nobody has; one that is closed."""
    for program, username in ((cast.physician, "merrin"), (cast.physician2, "quillan"), (cast.director, "sorrel")):
        named(program, username)
    named(cast.outsider_physician, "vane")
    named(cast.supervisor, "averill")
    free, closed = open_case(), open_case()
    cast.crew.post(f"cases/{closed}/close/", {"outcome": "cancelled"})
    cast.physician.post(f"cases/{case}/accept/")
    handover = cast.physician.post("handovers/", {"to": "quillan", "cases": [case]}).json()["id"]
    there = str(cast.crew2.member.unit_id)
    return SimpleNamespace(**vars(cast), case=case, free=free, closed=closed, handover=handover, there=there)


def offers(**body: Any) -> Try:
    return lambda on: on.physician.post("handovers/", {"to": "sorrel", "cases": [on.case], **body})


def accepts(who: str, **body: Any) -> Try:
    return lambda on: getattr(on, who).post(f"handovers/{on.handover}/accept/", {"cases": [on.case], **body})


def moves(which: str = "case", who: str = "crew", **body: Any) -> Try:
    return lambda on: getattr(on, who).post(f"cases/{getattr(on, which)}/move/", {"unit": on.there, **body})


def releases(which: str, who: str = "physician", **body: Any) -> Try:
    return lambda on: getattr(on, who).post(f"cases/{getattr(on, which)}/release/", body)


def gap(who: str = "crew", **body: Any) -> Try:
    return lambda on: getattr(on, who).post(f"cases/{on.case}/coverage/", {"until": ago(minutes=-20), **body})


def after_a_move(tell: Try) -> Try:
    def tried(on: SimpleNamespace) -> Any:
        assert on.crew.post(f"cases/{on.case}/move/", {"unit": on.there}).status_code == 200
        return tell(on)

    return tried


def kept_meanwhile(on: SimpleNamespace) -> Any:
    assert on.physician.post(f"cases/{on.case}/accept/").status_code == 200
    return accepts("physician2")(on)


SOON = {"until": ago(minutes=-20)}
MISUSE: dict[str, tuple[Try, int, str, str]] = {
    "control given up that nobody has": (releases("free"), 409, "", "No physician has control of the case of Kestrel"),
    "control given up of a colleague's case": (
        releases("case", "physician2"), 409, "", "Dr. Merrin has control of the case of Kestrel 2: only they"),
    "control given up of a closed case": (releases("closed"), 409, "", "The case was closed at"),
    "control given up by the crew": (releases("case", "crew"), 403, "", "Only a physician"),
    "a reason that is a number": (releases("case", reason=7), 422, "/reason", ""),
    "control taken that a colleague has": (
        lambda on: on.physician2.post(f"cases/{on.case}/accept/"), 409, "", "Dr. Merrin has control"),
    "a handover of a case that one has not": (
        lambda on: offers(cases=[on.free])(on), 409, "", "No physician has control"),
    "a handover of no case": (offers(cases=[]), 422, "/cases", ""),
    "a handover that names a case twice": (
        lambda on: offers(cases=[on.case, on.case])(on), 422, "/cases", "A case is named twice."),
    "a handover of an unknown case": (
        lambda on: offers(cases=[on.case, new_id()])(on), 422, "/cases/1", "There is no such case here."),
    "a handover to oneself": (offers(to="merrin"), 422, "/to", "That is you: choose a colleague."),
    "a handover to a supervisor": (offers(to="averill"), 422, "/to", "There is no physician with this user name here."),
    "a handover to another agency": (offers(to="vane"), 422, "/to", "There is no physician with this user name here."),
    "a handover to nobody": (offers(to=""), 422, "/to", ""),
    "a handover by a supervisor": (
        lambda on: on.supervisor.post("handovers/", {"to": "sorrel", "cases": [on.case]}), 403, "", "Only a physician"),
    "accepted by another than it is offered to": (accepts("director"), 403, "", "This case is offered to Dr. Quillan."),
    "accepted by who offered it": (accepts("physician"), 403, "", "This case is offered to Dr. Quillan."),
    "accepted after it was kept": (
        kept_meanwhile, 409, "", "The case of Kestrel 2 is no longer offered: Dr. Merrin has control."),
    "accepted with a case that is no part of it": (
        lambda on: accepts("physician2", cases=[on.free])(on),
        422, "/cases/0", "This case is not part of this handover."),
    "an unknown handover accepted": (
        lambda on: on.physician2.post(f"handovers/{new_id()}/accept/", {"cases": [on.case]}),
        404, "", "no such handover"),
    "a handover accepted in another agency": (accepts("outsider_physician"), 404, "", "no such handover"),
    "a move to where it is": (
        lambda on: moves(unit=str(on.crew.member.unit_id))(on), 409, "", "Kestrel 2 already has this patient."),
    "a move to another agency's unit": (
        lambda on: moves(unit=str(on.outsider_crew.member.unit_id))(on), 422, "/unit", "There is no such unit here."),
    "a move to no unit": (moves(unit=None), 422, "/unit", ""),
    "a move before the case": (moves(at=ago(hours=3)), 422, "/at", "Kestrel 2 has had this patient only since"),
    "a move that is to come": (moves(at=ago(minutes=-9)), 422, "/at", "more than 2 minutes ahead"),
    "a move of a closed case": (moves("closed"), 409, "", "The case was closed at"),
    "a move by another crew": (moves(who="crew2"), 404, "", ""),
    "a move by a supervisor": (moves(who="supervisor"), 403, "", ""),
    "readings of the former crew after the move": (
        after_a_move(lambda on: on.crew.post(f"cases/{on.case}/vitals/", vitals(hr=90, taken_at=ago(seconds=-30)))),
        409, "", "its crew enters what happened later"),
    "a dose of the former crew after the move": (
        after_a_move(lambda on: on.crew.post(
            f"cases/{on.case}/interventions/", push_dose(10, given_at=ago(seconds=-30)))),
        409, "", "Plover 8 has had this patient since"),
    "what is known changed by the former crew": (
        after_a_move(lambda on: on.crew.patch(f"cases/{on.case}/", {"destination": "Ashgrove"})),
        409, "", "only its crew and physicians can do this now"),
    "a card read by the former crew": (after_a_move(lambda on: on.crew.get(f"cases/{on.case}/")), 404, "", ""),
    "a gap in coverage that is over": (gap(until=ago(minutes=1)), 422, "/until", "This time has passed"),
    "a gap in coverage of a day": (gap(until=ago(hours=-24)), 422, "/until", "At most 120 minutes ahead"),
    "a gap in coverage told by a physician": (gap("physician"), 403, "", "Only the unit's crew"),
    "a gap in coverage without an end": (lambda on: on.crew.post(f"cases/{on.case}/coverage/", {}), 422, "/until", ""),
}  # fmt: skip


@pytest.mark.parametrize("what", MISUSE)
def test_it_is_refused_clearly_and_changes_nothing(on, what):
    attempt, status, pointer, says = MISUSE[what]
    moved = "after the move" in what or "former crew" in what
    before = [on.physician.get(f"cases/{case}/").json()["seq"] for case in (on.case, on.free, on.closed)]

    answer = attempt(on)
    refused(answer, status, **({"pointer": pointer} if pointer else {}))
    problem = answer.json()
    assert says in " ".join([problem["detail"], *(fault["detail"] for fault in problem.get("errors", []))])
    after = [on.physician.get(f"cases/{case}/").json()["seq"] for case in (on.case, on.free, on.closed)]
    if not moved and what != "accepted after it was kept":
        assert after == before


MALFORMED: dict[str, tuple[str, dict[str, Any]]] = {
    "vitals": ("cases/{case}/vitals/", {"taken_at": ago(seconds=30), "sbp": 9000}),
    "intervention": ("cases/{case}/interventions/", push_dose(-1)),
    "note": ("cases/{case}/notes/", {"at": ago(seconds=30), "text": ""}),
    "phase": ("cases/{case}/phase/", {"at": ago(seconds=30), "phase": "asleep"}),
    "change": ("interventions/{dose}/changes/", {"at": ago(seconds=30), "status": "lost"}),
    "handover": ("cases/{case}/handover/", {"at": ago(seconds=30)}),
    "patch": ("cases/{case}/", {"destinaton": "Ashgrove"}),
    "readback": ("orders/{order}/readback/", {"treatment": 7}),
    "understood": ("instructions/{told}/understood/", {"at": "noon"}),
}


@pytest.mark.parametrize("kind", MALFORMED)
def test_a_malformed_entry_of_the_former_crew_is_answered_alone_as_in_a_batch(on, kind):
    """And to a crew that never had the patient there is no such thing."""
    dose, order = (push_dose(10), {"at": ago(seconds=9), "reason": "low", **push_dose(30, given_at=None)})
    del order["given_at"]
    assert on.crew.post(f"cases/{on.case}/interventions/", dose).status_code == 201
    assert on.crew.post(f"cases/{on.case}/orders/", order).status_code == 201
    told = on.physician.post(f"cases/{on.case}/instructions/", {"text": "Turn her."}).json()["id"]
    assert on.crew.post(f"cases/{on.case}/move/", {"unit": on.there}).status_code == 200
    path, body = MALFORMED[kind]
    address = path.format(case=on.case, dose=dose["id"], order=order["id"], told=told)
    names = {"case": on.case, "intervention": dose["id"], "order": order["id"], "instruction": told}
    about = {name: id for name, id in names.items() if name == "case" or path.startswith(f"{name}s/")}
    entry = {"kind": kind, **about, **body, "id": new_id()}

    alone = on.crew.call("PATCH" if kind == "patch" else "POST", address, body)
    (in_batch,) = on.crew.post("batch/", {"sent_at": ago(), "entries": [entry]}).json()["results"]

    assert alone.json()["errors"] == in_batch["problem"]["errors"]
    assert (alone.status_code, in_batch["status"]) == (422, 422)
    never = on.outsider_crew.call("PATCH" if kind == "patch" else "POST", address, body)
    refused(never, 404)


@pytest.mark.parametrize("kind", ["handover", "close", "phase", "coverage"])
def test_what_ends_or_turns_a_case_comes_in_a_batch_like_all_else(cast, case, kind):
    """Contract, "Store and forward": `phase`, `coverage`, `handover`, `close` are kinds."""
    says = {
        "handover": {"to": "Ashgrove"},
        "close": {"outcome": "refused"},
        "phase": {"phase": "arrest"},
        "coverage": SOON,
    }
    reading = {"kind": "vitals", "case": case, **vitals(hr=90)}
    entries = [reading, {"kind": kind, "id": new_id(), "case": case, "at": ago(seconds=1), **says[kind]}]
    for first in (True, False):
        answer = cast.crew.post("batch/", {"sent_at": ago(), "entries": entries}).json()["results"]
        made = [201, 201 if kind == "phase" else 200]
        assert [each["status"] for each in answer] == (made if first else [200, 200])
    card = cast.physician.get(f"cases/{case}/").json()
    held = {"handover": card["state"] == "handed_over", "close": card["outcome"] == "refused"}
    held |= {"phase": card["phase"] == "arrest", "coverage": card["no_coverage_until"] is not None}
    assert held[kind]
    assert card["vitals"]["hr"]["value"] == 90


def test_a_case_of_another_unit_is_not_ended_by_a_batch(cast, case):
    ends = {"kind": "close", "id": new_id(), "case": case, "outcome": "cancelled"}
    answer = cast.crew2.post("batch/", {"sent_at": ago(), "entries": [ends]}).json()["results"]
    assert [each["status"] for each in answer] == [404]
    assert cast.physician.get(f"cases/{case}/").json()["state"] == "open"
