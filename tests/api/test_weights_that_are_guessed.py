"""A weight that hardly fits the age is taken and asked back once; a check of a guess tells the weights it holds for."""

import pytest

from tests.api.conftest import ago, mcg, new_id, refused, request

CHILD = {"age": {"value": 5, "unit": "years", "basis": "stated"}, "sex": "female"}


def kg(value, basis="stated"):
    return {"value": value, "unit": "kg", "basis": basis}


def opened(cast, weight, **more):
    body = {"id": new_id(), "opened_at": ago(minutes=20), "patient": {**CHILD, "weight": weight, **more}}
    answer = cast.crew.post("cases/", body)
    assert answer.status_code == 201, answer.content
    return body, answer.json()


@pytest.mark.parametrize(
    ("weight", "asked"),
    [
        (kg(18), []),
        (kg(28.8), []),
        # CDC 2000, 5 years: 3rd to 97th centile; 45 lb are 20.4 kg
        (kg(45), ["weight 45 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile: entered in pounds? (20.4 kg)"]),
        (kg(8, "measured"), ["weight 8 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile"]),
        (kg(0.3), ["weight 0.3 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile"]),
        (kg(400), ["weight 400 kg, usual is 14.3–28.8 kg at 5 years, 3rd to 97th centile"]),
        (None, []),
    ],
)
def test_opening_a_case_takes_every_weight_and_asks_one_back(cast, weight, asked):
    _body, answer = opened(cast, weight)

    assert answer["unlikely"] == asked
    assert answer["patient"]["weight"] == weight


@pytest.mark.parametrize("value", [0.29, 0, -3, 400.1])
def test_a_weight_that_nobody_has_is_refused(cast, value):
    body = {"opened_at": ago(minutes=1), "patient": {**CHILD, "weight": kg(value)}}
    refused(cast.crew.post("cases/", body), 422, "invalid", "/patient/weight/value")


@pytest.mark.parametrize(("age", "asked"), [((0, "days"), True), ((130, "years"), True), (None, True)])
def test_at_the_ends_of_age(cast, age, asked):
    """18 kg are asked back of a newborn, of somebody of 130 years and of an adult of unknown age."""
    told = None if age is None else {"value": age[0], "unit": age[1], "basis": "known"}
    _body, answer = opened(cast, kg(18), age=told)

    assert bool(answer["unlikely"]) == asked


def test_the_same_case_again_is_answered_alike(cast):
    body, answer = opened(cast, kg(45))
    again = cast.crew.post("cases/", body)

    assert again.status_code == 200
    assert again.json()["unlikely"] == answer["unlikely"] != []


@pytest.mark.parametrize(
    ("change", "asked"),
    [
        ({"patient": {"weight": kg(45)}}, True),
        ({"patient": {"weight": kg(20)}}, False),
        ({"patient": {"age": {"value": 12, "unit": "years"}}}, True),
        ({"destination": "Mere General"}, False),
        ({"patient": {"allergies": ["sulfite"]}}, False),
    ],
)
def test_a_change_is_asked_about_only_where_it_says_something_of_the_weight(cast, change, asked):
    body, _answer = opened(cast, kg(18))
    answer = cast.crew.patch(f"cases/{body['id']}/", change)

    assert answer.status_code == 200
    assert bool(answer.json()["unlikely"]) == asked


def test_what_follows_is_not_asked_again(cast):
    body, _answer = opened(cast, kg(45))
    accepted = cast.physician.post(f"cases/{body['id']}/accept/")

    assert accepted.status_code == 200
    assert "unlikely" not in accepted.json()


PUSH = {"treatment": "epinephrine-push-dose", "amount": mcg(5), "route": "IV"}


@pytest.mark.parametrize(
    ("weight", "told"),
    [
        # standing 2 mcg/kg, hard 5 mcg/kg for a child (demonstration rules); a caution already: no fluid
        (
            kg(18),
            {"least": 2.5, "most": None, "text": "caution for 2.5 kg and more"}
            | {"lighter": "needs_order", "heavier": None, "beyond": "below 2.5 kg needs an order"},
        ),
        (
            kg(2, "length"),
            {"least": 1, "most": 2.4, "text": "needs an order for 1–2.4 kg"}
            | {"lighter": "over_hard_limit", "heavier": "caution"}
            | {"beyond": "below 1 kg over the hard limit; over 2.4 kg caution"},
        ),
        (kg(18, "measured"), None),
        (None, None),
    ],
)
def test_a_check_says_for_which_weights_it_holds(cast, weight, told):
    body, _answer = opened(cast, weight)
    cast.crew.post(f"cases/{body['id']}/vitals/", {"taken_at": ago(seconds=1), "sbp": 60, "dbp": 35})
    answer = cast.crew.post(f"cases/{body['id']}/checks/", PUSH)

    assert answer.status_code == 200
    assert answer.json()["weight_range"] == told


def test_an_order_keeps_the_range_it_was_judged_by(cast):
    body, _answer = opened(cast, kg(18))
    order = cast.crew.post(f"cases/{body['id']}/orders/", request(15)).json()
    cast.crew.patch(f"cases/{body['id']}/", {"patient": {"weight": kg(18, "measured")}})

    assert order["check"]["weight_range"]["text"] == "needs an order for 3 kg and more"
    assert cast.crew.get(f"orders/{order['id']}/").json()["check"] == order["check"]
