"""Bodies that the tests treat: an adult in warm shock, one who has lost volume, and one with a failing heart."""

from __future__ import annotations

from consult.simulation.physiology import Body, Nature


def warm_adult(map_mmhg: float = 58) -> Body:
    """70 kg, full but with lax vessels."""
    return settled(Body(nature=Nature(weight_kg=70), blood_ml=4900), map_mmhg, 118)


def dry_adult() -> Body:
    """70 kg, three tenths of the blood volume lost."""
    return settled(Body(nature=Nature(weight_kg=70), blood_ml=0.7 * 4900), 57, 120)


def failing_adult() -> Body:
    """88 kg, overfull, a heart with half of its strength."""
    nature = Nature(weight_kg=88, filling_gain=0.2)
    return settled(Body(nature=nature, blood_ml=1.12 * nature.blood_ml, contractility=0.53, lung_water_ml=46), 57, 108)


def settled(body: Body, map_mmhg: float, hr: float) -> Body:
    """The body standing at this pressure and rate."""
    body.settle(map_mmhg=map_mmhg, hr=hr)
    return body


def curve(body: Body, minutes: float, every_s: float = 10) -> list[float]:
    """The MAP every few seconds while nobody does anything more."""
    points = []
    for _ in range(round(minutes * 60 / every_s)):
        body.advance(every_s)
        points.append(body.map)
    return points
