"""What runs stands on the board, however much was given besides."""

from __future__ import annotations

from consult.render import card_html
from tests.screens import sample_board as board
from tests.screens.page_text import read
from tests.screens.sample_cards import dose


def test_none_of_what_runs_is_among_the_earlier_doses():
    card = board.kestrel()
    running = [
        dose(f"r{count}", 9 - count, "crystalloid-bolus", "crystalloid bolus", "500 mL", status="running")
        for count in range(3)
    ]
    card["doses"] = [*running, *card["doses"]]

    assert len([line for line in read(card_html(card)).every("given") if "data-running" in line.attributes]) == 3
