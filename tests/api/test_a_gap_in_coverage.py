"""Contract: `POST /cases/{id}/coverage/` `{"until"}`, alone and in a batch; `until` is a plan and may lie ahead."""

import pytest

from tests.api.conftest import ago, new_id, refused


def test_the_card_says_it(cast, case):
    until = ago(minutes=-20)
    answer = cast.crew.post(f"cases/{case}/coverage/", {"id": new_id(), "until": until})

    assert answer.status_code == 200
    assert answer.json()["no_coverage_until"].replace("Z", "+00:00")[:19] == until[:19]


@pytest.mark.parametrize(
    ("minutes", "code"),
    [(1, "not_ahead"), (-119, None), (-121, "too_far_ahead")],
    ids=["passed", "ahead", "too far ahead"],
)
def test_until_when_it_may_last(cast, case, minutes, code):
    answer = cast.crew.post(f"cases/{case}/coverage/", {"until": ago(minutes=minutes)})

    if code:
        assert refused(answer, 422, pointer="/until")["errors"][0]["code"] == code
    else:
        assert answer.status_code == 200


@pytest.mark.parametrize("body", [{}, {"until": "soon"}, {"until": None}], ids=["nothing", "no time", "null"])
def test_it_needs_a_time(cast, case, body):
    refused(cast.crew.post(f"cases/{case}/coverage/", body), 422, pointer="/until")


def test_in_a_batch_and_again(cast, case):
    said = {"kind": "coverage", "id": new_id(), "case": case, "at": ago(minutes=1), "until": ago(minutes=-30)}
    first, again = (cast.crew.post("batch/", {"sent_at": ago(seconds=0), "entries": [said]}) for _ in range(2))

    assert [one.json()["results"][0]["status"] for one in (first, again)] == [200, 200]
    assert first.json()["results"][0]["seq"] == again.json()["results"][0]["seq"]
