"""A page is true before its script runs: what is old by then is marked in the HTML that the server sends."""

from __future__ import annotations

from datetime import timedelta

from consult.clock import when
from consult.render import ages, card_html
from tests.screens import sample_board as board
from tests.screens.page_text import read


def test_what_is_old_by_now_is_marked_before_any_script_runs():
    drawn = card_html(board.marten())
    stale_at = when(read(drawn).one("article").attributes["data-stale-at"] or "")

    fresh, stale = (read(ages.marked(drawn, stale_at + timedelta(seconds=by))).one("article") for by in (-1, 1))

    assert (fresh.attributes.get("data-fresh"), stale.attributes.get("data-fresh")) == (None, "stale")
