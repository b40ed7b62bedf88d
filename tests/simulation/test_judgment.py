"""What a crew makes of a dose check."""

from __future__ import annotations

import pytest

from consult.simulation.judgment import Next, decide, reasons


def check(verdict: str, *codes: str) -> dict[str, object]:
    """A check's answer with findings at the level of its verdict."""
    return {"verdict": verdict, "findings": [{"code": code, "level": verdict, "text": f"{code}!"} for code in codes]}


@pytest.mark.parametrize(
    ("answer", "expected"),
    [
        pytest.param(check("within"), Next.GIVE, id="within"),
        pytest.param(check("caution", "no_fluid_yet"), Next.GIVE, id="caution"),
        pytest.param(check("needs_order", "too_soon"), Next.WAIT, id="too soon"),
        pytest.param(check("needs_order", "no_pressure_since_last_dose"), Next.MEASURE, id="no pressure yet"),
        pytest.param(
            check("needs_order", "no_pressure_since_last_dose", "too_soon"), Next.MEASURE, id="no pressure and too soon"
        ),
        pytest.param(check("needs_order", "above_most"), Next.ASK, id="above the most"),
        pytest.param(check("needs_order", "too_soon", "crackles"), Next.ASK, id="one that waiting does not cure"),
        pytest.param(check("over_hard_limit", "above_hard_limit"), Next.LEAVE, id="over the hard limit"),
    ],
)
def test_next_step(answer: dict[str, object], expected: Next) -> None:
    assert decide(answer) is expected


def test_the_reason_names_what_needs_the_order_and_no_caution() -> None:
    answer = check("needs_order", "crackles", "total_reached")
    answer["findings"].append({"code": "pressure_stale", "level": "caution", "text": "old"})  # type: ignore[attr-defined]

    assert reasons(answer) == "crackles!; total_reached!"
