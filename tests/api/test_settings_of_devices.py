"""Settings of pacing, cardioversion and defibrillation as the contract has them: what is taken, refused and shown."""

from __future__ import annotations

import pytest

from consult.render.journal import settings_text
from tests.api.conftest import new_id

PACED = {"rate": 70, "output_ma": 60}
SHOCKED = {"joules": 100, "synchronized": True}


def done(procedure: str, device=None) -> dict:
    told = {} if device is None else {"settings": device}
    return {"id": new_id(), "procedure": procedure, "outcome": "done", **told}


@pytest.mark.parametrize(
    ("procedure", "device"),
    [
        ("pacing", PACED),
        ("pacing", {"rate": 30, "output_ma": 0}),
        ("pacing", {"rate": 200, "output_ma": 200}),
        ("cardioversion", SHOCKED),
        ("cardioversion", {"joules": "360", "synchronized": False}),
        ("defibrillation", {"joules": 1}),
        ("defibrillation", None),
    ],
)
def test_settings_within_their_ranges_are_kept(cast, case, procedure, device):
    answer = cast.crew.post(f"cases/{case}/procedures/", done(procedure, device))

    assert answer.status_code == 201
    kept = answer.json()["settings"]
    if device is None:
        assert kept is None
    else:
        assert {name: float(kept[name]) for name in device} == {name: float(each) for name, each in device.items()}


@pytest.mark.parametrize(
    ("procedure", "device", "pointer"),
    [
        ("pacing", {"rate": 29}, "/settings/rate"),
        ("pacing", {"rate": 201}, "/settings/rate"),
        ("pacing", {"output_ma": -1}, "/settings/output_ma"),
        ("pacing", {"output_ma": 201}, "/settings/output_ma"),
        ("cardioversion", {"joules": 0}, "/settings/joules"),
        ("cardioversion", {"joules": 361}, "/settings/joules"),
        ("cardioversion", {"synchronized": "yes"}, "/settings/synchronized"),
        ("cardioversion", {"energy": 100}, "/settings/energy"),
        ("airway", SHOCKED, "/settings"),
        ("cpr", PACED, "/settings"),
    ],
)
def test_what_is_no_setting_is_refused_where_it_stands(cast, case, procedure, device, pointer):
    answer = cast.crew.post(f"cases/{case}/procedures/", done(procedure, device))

    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


@pytest.mark.parametrize(
    ("procedure", "device", "shown"),
    [
        ("pacing", PACED, "70 a minute, 60 mA"),
        ("cardioversion", SHOCKED, "100 J, synchronized"),
        ("defibrillation", {"joules": 200, "synchronized": False}, "200 J, not synchronized"),
    ],
)
def test_the_timeline_says_what_was_set(cast, case, procedure, device, shown):
    cast.crew.post(f"cases/{case}/procedures/", done(procedure, device))
    lines = cast.physician.get(f"cases/{case}/journal/").json()["results"]
    (content,) = [line["data"]["content"] for line in lines if line["kind"] == "procedure.recorded"]

    assert settings_text(content) == shown
