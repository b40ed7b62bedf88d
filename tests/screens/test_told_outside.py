"""Who can have it mended sees on each page that escalated alerts do not get out."""

from __future__ import annotations

import pytest

from consult.actions import notifications
from consult.models import Agency, Destination
from tests.conftest import Cast, earlier
from tests.screens.conftest import Sign

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
PAGES = {"averill": ["/board/", "/history/", "/rules/"], "sorrel": ["/board/", "/rules/"], "merrin": ["/board/"]}


@pytest.mark.parametrize(("who", "path"), [(who, path) for who, paths in PAGES.items() for path in paths])
def test_supervisor_and_director_see_since_when_it_fails(who: str, path: str, cast: Cast, signed_in: Sign) -> None:
    agency = Agency.objects.get(pk=cast.averill.agency)
    notifications.add(agency, "email", "duty@example.org", earlier(hours=2), operator="root")
    assert 'id="untold"' not in signed_in(who).get(path).text

    Destination.objects.update(failing_since=earlier(minutes=30))

    page = signed_in(who).get(path).text
    assert ("Since 11:30 escalated alerts have not reached one of your agency's outside addresses" in page) == (
        who != "merrin"
    )
