"""Consults without a drug, misused: each row is refused with its clear answer, and leaves the case as it was."""

from __future__ import annotations

from functools import partial

import pytest

from tests.api.conftest import ago, new_id, question, refused

REFUSAL = {"capacity": "yes", "risks_told": True, "who_refuses": "patient"}
ENDING = {"minutes": 30, "rhythm": "asystole", "criteria": []}
LONG = "a" * 2001
refusal, ending = partial(question, "refusal"), partial(question, "end_resuscitation")


def without(content, name):
    return {key: value for key, value in content.items() if key != name}


# what is wrong · who sends it · what to · status, type, pointer, a word of what is told
ASKED = [
    ("no topic", without(question(), "topic"), "/topic", "required"),
    (
        "a topic that there is none of",
        question("gossip"),
        "/topic",
        "needed: advice, destination",
    ),
    ("no words", without(question(), "text"), "/text", "required"),
    ("empty words", question(text="  "), "/text", "Must not be empty."),
    ("too many words", question(text=LONG), "/text", "2000"),
    ("a time without an offset", question(at="2030-01-05T12:00:00"), "/at", "offset"),
    ("a time ahead", question(at=ago(minutes=-9)), "/at", "ahead"),
    ("a time before the case", question(at=ago(hours=9)), "/at", "before the case"),
    ("a form that advice has not", question(form=REFUSAL), "/form", "has no form"),
    ("a refusal without its form", refusal(), "/form", "comes with its form"),
    ("a refusal without the capacity", refusal(form=without(REFUSAL, "capacity")), "/form/capacity", "required"),
    (
        "a capacity that is none",
        refusal(form={**REFUSAL, "capacity": "maybe"}),
        "/form/capacity",
        "needed: ",
    ),
    ("risks told as a text", refusal(form={**REFUSAL, "risks_told": "yes"}), "/form/risks_told", "true or false"),
    ("a refusal with a rhythm", refusal(form={**REFUSAL, "rhythm": "VF"}), "/form/rhythm", "no such field"),
    ("an end without its minutes", ending(form=without(ENDING, "minutes")), "/form/minutes", "required"),
    ("minutes below nothing", ending(form={**ENDING, "minutes": -1}), "/form/minutes", "from 0"),
    ("an EtCO2 of nobody", ending(form={**ENDING, "etco2": 900}), "/form/etco2", "150"),
    ("a criterion that the rules lack", ending(form={**ENDING, "criteria": ["x"]}), "/form/criteria", "no criterion"),
    ("criteria that are no list", ending(form={**ENDING, "criteria": "x"}), "/form/criteria", "list"),
    ("a field that is misspelt", question(topik="advice"), "/topik", "no such field"),
]
TOLD = [
    ("an instruction without words", {}, "/text", "required"),
    ("a question that there is none of", {"text": "Go.", "question": new_id()}, "/question", "no such question"),
    ("a question that is no id", {"text": "Go.", "question": "7"}, "/question", "UUID"),
    ("a decision on nothing", {"text": "Go.", "decision": "agreed"}, "/decision", "Only a refusal"),
    ("a decision that is none", {"text": "Go.", "decision": "perhaps"}, "/decision", "needed: "),
    ("an instruction before the case", {"text": "Go.", "at": ago(hours=9)}, "/at", "before the case"),
]


def ids(rows):
    return [row[0] for row in rows]


def told_in(document):
    return " ".join(error["detail"] for error in document["errors"])


@pytest.fixture
def untouched(cast, case):
    """The journal says afterward that nothing has happened."""
    before = cast.crew.get(f"cases/{case}/").json()["seq"]
    yield
    assert cast.crew.get(f"cases/{case}/").json()["seq"] == before


@pytest.mark.usefixtures("untouched")
@pytest.mark.parametrize(("what", "content", "pointer", "words"), ASKED, ids=ids(ASKED))
def test_what_a_crew_cannot_ask(cast, case, what, content, pointer, words):
    document = refused(cast.crew.post(f"cases/{case}/questions/", {**content, "id": new_id()}), 422, pointer=pointer)
    assert words in told_in(document)


@pytest.mark.usefixtures("untouched")
@pytest.mark.parametrize(("what", "content", "pointer", "words"), TOLD, ids=ids(TOLD))
def test_what_a_physician_cannot_say(cast, case, what, content, pointer, words):
    document = refused(cast.physician.post(f"cases/{case}/instructions/", content), 422, pointer=pointer)
    assert words in told_in(document)


def asked(cast, case, **more):
    return cast.crew.post(f"cases/{case}/questions/", question(**more)).json()["id"]


def instructed(cast, case, **more):
    return cast.physician.post(f"cases/{case}/instructions/", {"text": "Sit her up.", **more}).json()["id"]


STEPS = [  # what was done before, what is done then, a word of the 409
    ((), "done", "not confirmed yet"),
    ((), "unable", "not confirmed yet"),
    (("understood",), "understood", "was understood by J. Osk"),
    (("understood", "done"), "done", "was done by J. Osk"),
    (("understood", "done"), "unable", "was done by J. Osk"),
    (("understood", "done"), "withdraw", "was done by J. Osk"),
    (("understood", "unable"), "done", "J. Osk said at"),
    (("withdraw",), "understood", "was withdrawn by Dr. Merrin"),
    (("withdraw",), "unable", "was withdrawn by Dr. Merrin"),
    (("withdraw",), "withdraw", "was withdrawn by Dr. Merrin"),
]


@pytest.mark.parametrize(
    ("before", "then", "words"), STEPS, ids=lambda each: each if isinstance(each, str) else "-".join(each)
)
def test_a_step_that_does_not_follow_is_409(cast, case, before, then, words):
    instruction = instructed(cast, case)

    def take(step):
        by = cast.physician if step == "withdraw" else cast.crew
        body = {"reason": "as agreed"} if step in ("withdraw", "unable") else {}
        return by.post(f"instructions/{instruction}/{step}/", body)

    for step in before:
        assert take(step).status_code == 200
    assert words in refused(take(then), 409, "wrong-state")["detail"]


def test_a_step_before_the_instruction_is_refused(cast, case):
    instruction = instructed(cast, case)
    answer = cast.crew.post(f"instructions/{instruction}/understood/", {"at": ago(minutes=10)})
    assert "before the instruction" in told_in(refused(answer, 422, pointer="/at"))


def test_unable_says_why(cast, case):
    refused(cast.crew.post(f"instructions/{instructed(cast, case)}/unable/", {}), 422, pointer="/reason")


def test_of_two_physicians_who_answer_one_wins(cast, case):
    about = asked(cast, case)
    first = {"text": "The nearer one.", "question": about}
    assert cast.physician.post(f"cases/{case}/instructions/", first).status_code == 201
    second = cast.physician2.post(f"cases/{case}/instructions/", {"text": "The trauma center.", "question": about})
    assert "answered by Dr. Merrin" in refused(second, 409, "wrong-state")["detail"]


def test_a_question_withdrawn_wants_no_answer_and_no_second_withdrawal(cast, case):
    about, reason = asked(cast, case), {"reason": "arrived"}
    assert cast.crew.post(f"questions/{about}/withdraw/", reason).status_code == 200
    answer = cast.physician.post(f"cases/{case}/instructions/", {"text": "Go.", "question": about})
    assert "withdrawn by J. Osk" in refused(answer, 409, "wrong-state")["detail"]
    refused(cast.crew.post(f"questions/{about}/withdraw/", reason), 409, "wrong-state")


def test_a_question_of_another_case_is_none_of_this_one(cast, case, open_case):
    other = open_case(patient={"age": None, "weight": None, "label": "B"})
    answer = cast.physician.post(f"cases/{case}/instructions/", {"text": "Go.", "question": asked(cast, other)})
    refused(answer, 422, pointer="/question")


@pytest.mark.parametrize("topic", [refusal(form=REFUSAL), ending(form=ENDING)], ids=lambda each: each["topic"])
def test_a_guided_question_is_not_answered_without_a_decision(cast, case, topic):
    about = cast.crew.post(f"cases/{case}/questions/", {**topic, "id": new_id()}).json()["id"]
    answer = cast.physician.post(f"cases/{case}/instructions/", {"text": "Hm.", "question": about})
    refused(answer, 422, pointer="/decision")


def test_no_more_than_thirty_of_each_are_open(cast, case):
    for _ in range(30):
        asked(cast, case)
        instructed(cast, case)
    answer = cast.crew.post(f"cases/{case}/questions/", question())
    assert "30 questions are open" in refused(answer, 409, "wrong-state")["detail"]
    answer = cast.physician.post(f"cases/{case}/instructions/", {"text": "Go."})
    assert "30 instructions are open" in refused(answer, 409, "wrong-state")["detail"]


def test_in_a_case_that_has_ended_nothing_is_asked_or_told(cast, case):
    cast.crew.post(f"cases/{case}/close/", {"outcome": "refused"})
    refused(cast.crew.post(f"cases/{case}/questions/", question(at=ago(seconds=0))), 409, "wrong-state")
    refused(cast.physician.post(f"cases/{case}/instructions/", {"text": "Go."}), 409, "wrong-state")


@pytest.mark.parametrize(
    ("entry", "status", "pointer"),
    [
        ({"kind": "understood"}, 422, "/instruction"),
        ({"kind": "understood", "instruction": new_id()}, 404, None),
        ({"kind": "withdraw_question", "reason": "moot"}, 422, "/question"),
        ({"kind": "instruction", "text": "Go."}, 422, "/kind"),
    ],
    ids=["names none", "of nobody", "withdraws none", "by a physician alone"],
)
def test_what_a_batch_cannot_carry(cast, case, entry, status, pointer):
    sent = {"sent_at": ago(seconds=0), "entries": [{"id": new_id(), "case": case, **entry}]}
    (result,) = cast.crew.post("batch/", sent).json()["results"]
    assert result["status"] == status
    if pointer:
        assert pointer in {error["pointer"] for error in result["problem"]["errors"]}
