"""Contract, "Lists page by cursor, 200 a page", and the journal by its numbers."""

from base64 import b64encode
from urllib.parse import urlencode

import pytest

from consult.models import Case
from tests.api.conftest import ago, new_id, refused

FIELDS = {"next", "previous", "results"}


def walk(caller, path, step="next"):
    """Every page from an address on, following `next` or `previous`."""
    pages = []
    while path:
        page = caller.get(path.split("http://testserver", 1)[-1]).json()
        assert page.keys() == FIELDS
        pages.append(page)
        path = page[step]
    return pages


def ids(pages):
    return [row["id"] for page in pages for row in page["results"]]


@pytest.fixture
def many_cases(open_case):
    """450 cases of one unit, some opened at the very same moment: copies of one row, since only lists are looked at."""
    first = Case.objects.get(uid=open_case())
    moments = [ago(minutes=minute // 3) for minute in range(449)]
    rows = []
    for moment in moments:
        row = Case.objects.get(pk=first.pk)
        row.pk, row.uid, row.opened_at = None, new_id(), moment
        rows.append(row)
    Case.objects.bulk_create(rows)


@pytest.mark.usefixtures("many_cases")
@pytest.mark.parametrize("path", ["cases/", "cases/?state=open", "history/"])
def test_every_row_stands_on_exactly_one_page_newest_first(cast, path):
    pages = walk(cast.supervisor, path)
    assert [len(page["results"]) for page in pages] == [200, 200, 50]
    assert len(set(ids(pages))) == 450
    opened = [row["opened_at"] for page in pages for row in page["results"]]
    assert opened == sorted(opened, reverse=True)


@pytest.mark.usefixtures("many_cases")
def test_the_way_back_shows_the_same_rows(cast):
    pages = walk(cast.supervisor, "cases/")
    back = walk(cast.supervisor, pages[-1]["previous"], "previous")
    assert ids(reversed(back)) == ids(pages[:-1])


@pytest.mark.parametrize("content", ["not ours", "p=yesterday", "p=2030-01-05 10:00:00", "o=x", "o=-1", "p=%00", "é"])
def test_a_cursor_that_was_never_given_out_is_404(cast, content):
    cursor = urlencode({"cursor": b64encode(content.encode()).decode()})
    refused(cast.physician.get(f"cases/?{cursor}"), 404)


@pytest.mark.parametrize("cursor", ["x", "%00", "%C3%A9", "===="])
def test_a_cursor_that_is_no_cursor_at_all_is_404(cast, cursor):
    refused(cast.physician.get(f"cases/?cursor={cursor}"), 404)


def test_a_short_list_has_one_page(cast, case):
    page = cast.physician.get("cases/").json()
    assert (page["next"], page["previous"], ids([page])) == (None, None, [case])


def test_the_journal_goes_on_after_a_number(cast, case):
    entries = [{"kind": "note", "id": new_id(), "case": case, "text": f"{number}"} for number in range(200)]
    for _ in range(2):
        cast.crew.post("batch/", {"sent_at": ago(seconds=0), "entries": entries})
        entries = [{**each, "id": new_id()} for each in entries]
    pages = walk(cast.physician, f"cases/{case}/journal/")
    seqs = [row["seq"] for page in pages for row in page["results"]]
    assert seqs == list(range(1, 402)), "no gaps"
    assert [len(page["results"]) for page in pages] == [200, 200, 1]
    assert pages[1]["previous"].endswith("after=0")
    assert [row["seq"] for row in cast.physician.get(f"cases/{case}/journal/?after=399").json()["results"]] == [
        400,
        401,
    ]
    assert cast.physician.get(f"cases/{case}/journal/?after=401").json()["results"] == []
