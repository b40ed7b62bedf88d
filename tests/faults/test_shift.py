"""Each part of the board is killed twice under a scripted shift; `python -m tests.faults.shift` is the long form."""

from __future__ import annotations

import os
from pathlib import Path
from statistics import median

import pytest

from tests.faults.servers import postgres_binaries
from tests.faults.shift import Shift
from tests.faults.whole_board import VICTIMS

pytestmark = [
    pytest.mark.xdist_group("production"),
    pytest.mark.timeout(900),  # half a minute of processor time and short waits; more where others have the machine
    pytest.mark.skipif(postgres_binaries() is None, reason="PostgreSQL's programs are not on this machine"),
]


def test_kills_of_each_part_lose_double_and_miss_nothing(tmp_path: Path) -> None:
    shift = Shift(kills=2, transports=6, seed=7, healthy_s=1)
    found = shift.run(tmp_path)

    assert found.faults == []
    assert (found.lost, found.doubled, found.missed, found.twice) == (0, 0, 0, 0)
    assert shift.struck == dict.fromkeys(VICTIMS, 2)
    assert found.acknowledged > 30
    assert found.due > 3
    if median(shift.loads) < 2 * (os.cpu_count() or 1):  # on a machine with more to do nothing is said of seconds
        assert found.late == []
