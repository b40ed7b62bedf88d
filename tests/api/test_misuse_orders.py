"""Questions, co-signs and voice orders used wrongly: each gets one clear answer, and nothing of it is kept.

A row is what was done before, what is done wrongly then, and the answer: status, type and words of the detail, or the
field that a 422 points at.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from consult.models import Case
from tests.api.conftest import Program, mcg, new_id, push_dose, refused, request
from tests.api.story import Story
from tests.conftest import with_a_user


class Misused:
    """One request of 30 mcg of push-dose epinephrine (standing limit 20), and what is done to it, right and wrong."""

    def __init__(self, cast: Any, monkeypatch: Any) -> None:
        self.cast, self.story = cast, Story(cast, monkeypatch).open()
        self.story.read(sbp=80, dbp=40, lungs="clear")
        self.dose = ""
        for known in (cast.physician, cast.outsider_physician, cast.crew):
            with_a_user(known.actor)
        self.order = self.story.posted(f"cases/{self.story.case}/orders/", request())["id"]

    def does(self, act: str) -> Any:
        """The answer to an act."""
        who, _, what = act.partition(" ")
        return ACTS[what](self, getattr(self.cast, who))

    @property
    def seq(self) -> int:
        return Case.objects.get(uid=self.story.case).seq  # the card may not be asked: a look goes on record


NOW = "2030-01-05T12:00:00Z"
Act = Callable[[Misused, Program], Any]


def step(address: str, **body: Any) -> Act:
    """A step of the order."""
    return lambda at, who: who.post(f"orders/{at.order}/{address}/", {"id": new_id(), **body})


def on_case(address: str, **body: Any) -> Act:
    """What is done to the case."""
    return lambda at, who: who.post(f"cases/{at.story.case}/{address}/", {"id": new_id(), **body})


def later(minutes: float) -> Act:
    """Time passes, and the sweep does what is due."""

    def passes(at: Misused, who: Program) -> Any:
        at.story.at(minutes)
        return who.get(f"orders/{at.order}/")

    return passes


def in_batch(at: Misused, who: Program) -> Any:
    """An answer that a phone kept, sent on as the batch's one entry: its problem stands in the result."""
    entry = {"kind": "answer", "id": new_id(), "order": at.order, "text": "18 G"}
    return who.post("batch/", {"sent_at": at.story.time(None), "entries": [entry]})


def on_order(amount: dict[str, Any], **body: Any) -> Act:
    """Another order of this amount, which takes the request's place in what is done next."""

    def orders(at: Misused, who: Program) -> Any:
        entry = {**request(), "id": new_id(), "amount": amount, **body}
        done = who.post(f"cases/{at.story.case}/orders/", entry)
        at.order = entry["id"] if done.status_code == 201 else at.order
        return done

    return orders


def gives(value: float = 30, **body: Any) -> Act:
    """A dose given, by the voice of Dr. Merrin where nothing else is said."""

    def given(at: Misused, who: Program) -> Any:
        said = {"physician": "merrin", "at": at.story.time(None)}
        entry = {**push_dose(value), "given_at": at.story.time(None), "voice_order": said, **body}
        at.dose = str(entry["id"])
        sent = {name: content for name, content in entry.items() if content is not None}
        return who.post(f"cases/{at.story.case}/interventions/", sent)

    return given


def countersigns(**body: Any) -> Act:
    """What is said about the dose given last."""
    return lambda at, who: who.post(f"interventions/{at.dose}/countersign/", {"id": new_id(), **body})


def takes_back(at: Misused, who: Program) -> Any:
    """The dose given last was entered in error."""
    target = {"kind": "intervention", "id": at.dose}
    return who.post(
        f"cases/{at.story.case}/corrections/", {"id": new_id(), "target": target, "reason": "wrong patient"}
    )


ACTS: dict[str, Act] = {
    "gives by voice": gives(),
    "gives by nobody's voice": gives(voice_order=None),
    "gives by the voice of a crew": gives(voice_order={"physician": "osk", "at": NOW}),
    "gives by a voice elsewhere": gives(voice_order={"physician": "vane", "at": NOW}),
    "gives by a voice after the dose": gives(voice_order={"physician": "merrin", "at": "2030-01-05T12:01:00Z"}),
    "gives by a voice of tomorrow": gives(voice_order={"physician": "merrin", "at": "2030-01-06T12:00:00Z"}),
    "gives by a voice without a name": gives(voice_order={"at": NOW}),
    "gives by voice what was given before": gives(prior=True, prior_by="hospital"),
    "gives by voice and by an order": gives(order="00000000-0000-4000-8000-000000000001"),
    "countersigns": countersigns(),
    "denies": countersigns(agreed=False, reason="not mine"),
    "denies without a reason": countersigns(agreed=False),
    "countersigns with another dose": countersigns(amount=mcg(10)),
    "takes it back": takes_back,
    "asks": step("decision", decision="ask", text="Which line?"),
    "asks again": step("decision", decision="ask", text="Lungs?"),
    "asks nothing": step("decision", decision="ask"),
    "answers": step("answer", text="18 G"),
    "answers in a batch": in_batch,
    "answers the first question": step("answer", text="18 G", question="Which line?"),
    "answers nothing": step("answer", text=""),
    "answers white space": step("answer", text="  "),
    "answers too much": step("answer", text="x" * 2001),
    "answers with an amount": step("answer", text="18 G", amount=mcg(30)),
    "answers for tomorrow": step("answer", text="18 G", at="2030-01-06T12:00:00Z"),
    "orders 150 mcg": on_order(mcg(150), hard_limit_reason="arterial line in"),
    "orders 150 mcg without a reason": on_order(mcg(150)),
    "orders 10 mcg beyond a limit": on_order(mcg(10), hard_limit_reason="arterial line in"),
    "reads back 150 mcg": step("readback", treatment="epinephrine-push-dose", route="IV", amount=mcg(150)),
    "co-signs": step("cosign", reason="agreed"),
    "co-signs without a reason": step("cosign"),
    "co-signs with an amount": step("cosign", reason="agreed", amount=mcg(80)),
    "approves beyond a limit": step("decision", decision="approve", hard_limit_reason="arterial line in"),
    "declines beyond a limit": step("decision", decision="decline", reason="no", hard_limit_reason="arterial line in"),
    "approves": step("decision", decision="approve", reason="agreed"),
    "declines": step("decision", decision="decline", reason="at goal"),
    "withdraws": step("withdraw", reason="asked anew"),
    "closes the case": on_case("close", outcome="cancelled"),
    "waits half an hour": later(31),
}

WRONG_STATE = (409, "wrong-state")
ROWS: list[tuple[str, str, int, str, str]] = [
    # before · then · status · type · words
    ("", "crew answers", *WRONG_STATE, "There is no query on this request."),
    (
        "physician asks, crew answers",
        "crew answers",
        *WRONG_STATE,
        "The query was answered by J. Osk",
    ),
    ("physician asks, physician approves", "crew answers", *WRONG_STATE, "The order was approved by Dr. Merrin"),
    ("physician asks, physician2 declines", "crew answers", *WRONG_STATE, "The order was declined by Dr. Quillan"),
    ("physician asks, crew withdraws", "crew answers", *WRONG_STATE, "The order was withdrawn by J. Osk"),
    ("physician asks, crew closes the case", "crew answers", *WRONG_STATE, "case ended"),
    ("physician asks, physician approves, crew waits half an hour", "crew answers", *WRONG_STATE, "expired"),
    (
        "physician asks, physician2 asks again",
        "crew answers the first question",
        *WRONG_STATE,
        "There is a newer query",
    ),
    ("physician asks", "crew2 answers", 404, "not-found", "There is no such order here."),
    ("physician asks", "outsider_crew answers", 404, "not-found", "There is no such order here."),
    ("physician asks", "physician answers", 403, "forbidden", "Only the unit's crew can do this."),
    ("physician asks", "supervisor answers", 403, "forbidden", "Only the unit's crew can do this."),
    ("physician asks", "nobody answers", 401, "not-signed-in", ""),
    ("physician asks", "crew answers nothing", 422, "invalid", "/text"),
    ("physician asks", "crew answers white space", 422, "invalid", "/text"),
    ("physician asks", "crew answers too much", 422, "invalid", "/text"),
    ("physician asks", "crew answers with an amount", 422, "invalid", "/amount"),
    ("physician asks", "crew answers for tomorrow", 422, "invalid", "/at"),
    ("", "crew asks", 403, "forbidden", "Only a physician can do this."),
    ("", "physician asks nothing", 422, "invalid", "/text"),
    ("physician declines", "physician asks", *WRONG_STATE, "The order was declined by Dr. Merrin"),
    # a second physician
    ("", "physician orders 150 mcg without a reason", 422, "hard-limit", "hard limit"),
    ("", "physician orders 10 mcg beyond a limit", 422, "invalid", "/hard_limit_reason"),
    ("", "physician approves beyond a limit", 422, "invalid", "/hard_limit_reason"),
    ("", "physician declines beyond a limit", 422, "invalid", "/hard_limit_reason"),
    ("", "crew orders 150 mcg", 422, "invalid", "/hard_limit_reason"),
    ("", "physician2 co-signs", *WRONG_STATE, "nobody has decided on it yet"),
    ("physician approves", "physician2 co-signs", *WRONG_STATE, "The order needs no second physician."),
    ("physician orders 150 mcg", "physician co-signs", 403, "forbidden", "You decided this order"),
    ("physician orders 150 mcg", "crew co-signs", 403, "forbidden", "Only a physician can do this."),
    ("physician orders 150 mcg", "supervisor co-signs", 403, "forbidden", "Only a physician can do this."),
    ("physician orders 150 mcg", "outsider_physician co-signs", 404, "not-found", "no such order"),
    ("physician orders 150 mcg", "physician2 co-signs without a reason", 422, "invalid", "/reason"),
    ("physician orders 150 mcg", "physician2 co-signs with an amount", 422, "invalid", "/amount"),
    ("physician orders 150 mcg", "crew reads back 150 mcg", *WRONG_STATE, "waits for a second physician"),
    (
        "physician orders 150 mcg, physician2 co-signs",
        "physician2 co-signs",
        *WRONG_STATE,
        "already co-signed by Dr. Quillan",
    ),
    (
        "physician orders 150 mcg, physician2 co-signs",
        "director co-signs",
        *WRONG_STATE,
        "already co-signed by Dr. Quillan",
    ),
    ("physician orders 150 mcg, physician withdraws", "physician2 co-signs", *WRONG_STATE, "The order was withdrawn"),
    ("physician orders 150 mcg, crew waits half an hour", "physician2 co-signs", *WRONG_STATE, "expired"),
    ("physician orders 150 mcg, crew closes the case", "physician2 co-signs", *WRONG_STATE, "case ended"),
    # ordered by voice
    ("", "crew gives by the voice of a crew", 422, "invalid", "/voice_order/physician"),
    ("", "crew gives by a voice elsewhere", 422, "invalid", "/voice_order/physician"),
    ("", "crew gives by a voice after the dose", 422, "invalid", "/voice_order/at"),
    ("", "crew gives by a voice of tomorrow", 422, "invalid", "/voice_order/at"),
    ("", "crew gives by a voice without a name", 422, "invalid", "/voice_order/physician"),
    ("", "crew gives by voice what was given before", 422, "invalid", "/voice_order"),
    ("", "crew gives by voice and by an order", 422, "invalid", "/voice_order"),
    ("crew gives by nobody's voice", "physician countersigns", *WRONG_STATE, "This was not ordered by voice."),
    (
        "crew gives by voice",
        "physician2 countersigns",
        403,
        "forbidden",
        "Only Dr. Merrin, named for this order, can countersign it",
    ),
    (
        "crew gives by voice",
        "director denies",
        403,
        "forbidden",
        "Only Dr. Merrin, named for this order, can countersign it",
    ),
    ("crew gives by voice", "crew countersigns", 403, "forbidden", "Only a physician can do this."),
    ("crew gives by voice", "supervisor countersigns", 403, "forbidden", "Only a physician can do this."),
    ("crew gives by voice", "outsider_physician countersigns", 404, "not-found", "no such intervention"),
    ("crew gives by voice", "physician denies without a reason", 422, "invalid", "/reason"),
    ("crew gives by voice", "physician countersigns with another dose", 422, "invalid", "/amount"),
    ("crew gives by voice, physician countersigns", "physician countersigns", *WRONG_STATE, "was countersigned by"),
    ("crew gives by voice, physician countersigns", "physician denies", *WRONG_STATE, "countersigned by Dr. Merrin"),
    ("crew gives by voice, physician denies", "physician countersigns", *WRONG_STATE, "denied by Dr. Merrin"),
    ("crew gives by voice, crew takes it back", "physician countersigns", *WRONG_STATE, "entered in error"),
    ("crew closes the case", "physician asks", *WRONG_STATE, "The case was closed"),
]


@pytest.mark.parametrize(
    ("before", "then", "status", "kind", "words"), ROWS, ids=[f"{row[0]}, {row[1]}" for row in ROWS]
)
def test_what_is_done_wrongly_is_refused_in_clear_words(
    cast: Any, monkeypatch: Any, before: str, then: str, status: int, kind: str, words: str
):
    misused = Misused(cast, monkeypatch)
    for act in filter(None, before.split(", ")):
        done = misused.does(act)
        assert done.status_code in (200, 201), (act, done.content)
    seq = misused.seq
    answer = misused.does(then)

    if words.startswith("/"):
        refused(answer, status, kind, words)
    else:
        assert words in str(refused(answer, status, kind)["detail"])
    assert misused.seq == seq


def test_an_answer_in_a_batch_is_refused_as_it_would_be_alone(cast: Any, monkeypatch: Any):
    misused = Misused(cast, monkeypatch)
    too_soon = misused.does("crew answers in a batch").json()["results"][0]
    misused.does("physician asks")
    in_time = misused.does("crew answers in a batch").json()["results"][0]

    assert (too_soon["status"], too_soon["problem"]["type"]) == WRONG_STATE
    assert in_time["status"] == 200


def test_no_more_questions_than_anybody_asks(cast: Any, monkeypatch: Any):
    misused = Misused(cast, monkeypatch)
    for _ in range(20):
        assert misused.does("physician asks").status_code == 200
    assert "has had 20 queries" in refused(misused.does("physician asks"), *WRONG_STATE)["detail"]
