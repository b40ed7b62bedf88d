"""What a careful crew makes of the answer to a dose check."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from dosing.check.findings import PASSING


class Next(StrEnum):
    """What to do with a treatment after its check."""

    GIVE = "give"
    WAIT = "wait"
    MEASURE = "measure"
    ASK = "ask"
    LEAVE = "leave"


def decide(check: Mapping[str, Any]) -> Next:
    """Give within the standing limits, else wait, measure or ask; never pass a hard limit."""
    if check["verdict"] in ("within", "caution"):
        return Next.GIVE
    if check["verdict"] == "over_hard_limit":
        return Next.LEAVE
    codes = {finding["code"] for finding in check["findings"] if finding["level"] == "needs_order"}
    if codes == {"too_soon"}:
        return Next.WAIT
    if codes <= set(PASSING):
        return Next.MEASURE
    return Next.ASK


def reasons(check: Mapping[str, Any]) -> str:
    """The findings in words, for the reason of a request."""
    return "; ".join(str(finding["text"]) for finding in check["findings"] if finding["level"] == "needs_order")
