"""Where the patient goes stands on the crew's page of the case, as they typed it, with the time of arrival."""

from __future__ import annotations

from uuid import uuid4

import pytest

from consult.actions import cases
from tests.conftest import NOON, Consult, later
from tests.screens.conftest import Sign
from tests.screens.page_text import read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({}, ""),
        ({"destination": "Marrowby General"}, "To Marrowby General"),
        ({"destination": "Marrowby General", "eta": later(minutes=20)}, "To Marrowby General, ETA 12:20"),
    ],
    ids=["none", "without a time", "with one"],
)
def test_the_destination_is_shown(consult: Consult, signed_in: Sign, typed: dict[str, object], told: str) -> None:
    cases.patch_case(consult.cast.osk, consult.uid, {"id": uuid4(), "destination": "", **typed}, NOON)

    (about,) = read(signed_in("osk").get(f"/crew/{consult.uid}/").text).every("div", data_part="about")

    assert about.text.endswith(told)
    assert bool(told) == ("To " in about.text)
