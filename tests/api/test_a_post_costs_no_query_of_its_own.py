"""The API adds nothing to what the action asks of the database, once the token is known."""

from datetime import timedelta

import pytest

from api.views.vitals import Vitals
from consult import access, models
from consult.actions.entry import Written
from consult.resources import entries
from tests.api.conftest import vitals


@pytest.fixture
def idle_action(cast, case, monkeypatch):
    """An action that asks nothing, so that only the API's own queries are left."""
    cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=96))
    answer = entries.vitals(models.Vitals.objects.get(), 3)
    monkeypatch.setattr(Vitals, "act", staticmethod(lambda *_: Written(answer, 3)))


@pytest.fixture(autouse=True)
def tokens_stay_known(monkeypatch):
    """However slow the machine, a token that was looked up is not looked up again within the test."""
    monkeypatch.setattr(access, "TOKEN_KEPT", timedelta(hours=1))


@pytest.mark.usefixtures("idle_action")
def test_vitals_are_read_and_answered_without_a_query(cast, case, django_assert_num_queries):
    cast.crew.get("schema/")
    with django_assert_num_queries(0):
        assert cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=96, dbp=44)).status_code == 201


@pytest.mark.usefixtures("idle_action")
@pytest.mark.parametrize("by", ["supervisor", "outsider_physician"])
def test_only_a_refusal_looks_up_what_the_caller_may_see(cast, case, by, django_assert_max_num_queries):
    caller = getattr(cast, by)
    caller.get("schema/")
    with django_assert_max_num_queries(1):
        assert caller.post(f"cases/{case}/vitals/", {}).status_code in (403, 404)
