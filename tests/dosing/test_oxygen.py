"""Oxygen cylinders against the tables and worked examples that emergency services publish."""

from __future__ import annotations

from fractions import Fraction

import pytest

from dosing.ground import tables
from dosing.ground.facts import Amount, Cylinder
from dosing.held import oxygen


def liters(size: str, psi: float) -> Fraction:
    return oxygen.liters(Cylinder(size=size, pressure=Amount(psi, "psi")))


@pytest.mark.parametrize(
    ("size", "psi", "l_min", "minutes"),
    [
        # Oxygen duration as public calculators work it: (1200 - 200) x 0.28 / 4
        ("E", 1200, 4, 70),
        # American Academy of Orthopaedic Surgeons, emergency care textbook, as quoted: 1800 psi x 0.16 = 288 L
        ("D", 2000, 0.5, 576),
        # The same formula, worked for an M cylinder in the same textbook, from memory: 281 min
        ("M", 2000, 10, 281),
    ],
)
def test_a_worked_example_comes_out(size: str, psi: float, l_min: float, minutes: int) -> None:
    assert round(liters(size, psi) / Fraction(str(l_min))) == minutes


@pytest.mark.parametrize(("size", "least_psi"), [("D", 1150), ("E", 750)])
def test_the_least_pressure_of_a_state_gives_its_least_time(size: str, least_psi: float) -> None:
    """Virginia 12VAC5-31-860 with its guidance of 2010: 10 L/min for 15 min, at least 1,150 psi in D, 750 in E."""
    assert 15 <= liters(size, least_psi) / 10 < 16


@pytest.mark.parametrize(("size", "full"), [("D", 350), ("E", 625), ("H", 6900), ("K", 6900)])
def test_a_full_cylinder_holds_what_is_published(size: str, full: float) -> None:
    """State EMS guidance, October 2010: liters when full; at the usual 2,200 psi, reserve and all."""
    factor = tables.load("held/cylinders")[size]["l_per_psi"]
    assert float(liters(size, 2200) + 200 * factor) == pytest.approx(full, rel=0.02)


def test_the_table_of_another_state_without_a_reserve() -> None:
    """Pennsylvania's table of remaining supply: an M cylinder at 500 psi and 6 L/min, 130 min to the very end."""
    assert (liters("M", 500) + 200 * Fraction("1.56")) / 6 == 130


def test_a_cylinder_told_by_its_water_volume() -> None:
    """2 L at 200 bar hold 400 L (Boyle's law); 200 psi of reserve are 13.8 bar."""
    own = Cylinder(factor=Amount(2, "L/bar"), pressure=Amount(200, "bar"))
    assert float(oxygen.liters(own)) == pytest.approx(400 - 2 * 13.79, abs=0.1)


def test_at_or_under_the_reserve_there_is_nothing() -> None:
    assert liters("E", 200) == liters("E", 50) == 0


def test_psi_and_bar_of_one_pressure_are_one() -> None:
    """100 bar are 1,450.4 psi (NIST SP 811)."""
    in_bar = oxygen.liters(Cylinder(size="E", pressure=Amount(100, "bar")))
    assert float(in_bar) == pytest.approx(float(liters("E", 1450.38)), abs=0.01)


def test_each_factor_is_told_with_its_source() -> None:
    """The state's sheet and, for G, the textbook: D 0.16, E 0.28, G 2.41, H and K 3.14, M 1.56 L/psi."""
    told = [(name, number, source.id, source.mark, source.text[:16]) for name, number, source in oxygen.figures()]

    assert told == [
        ("D cylinder", "0.16 L/psi", "D", "read", "State EMS office"),
        ("E cylinder", "0.28 L/psi", "E", "read", "State EMS office"),
        ("M cylinder", "1.56 L/psi", "M", "read", "State EMS office"),
        ("G cylinder", "2.41 L/psi", "G", "second-hand", "American Academy"),
        ("H cylinder", "3.14 L/psi", "H", "read", "State EMS office"),
        ("K cylinder", "3.14 L/psi", "K", "read", "State EMS office"),
        ("Reserve", "200 psi", "reserve", "read", "State EMS office"),
        ("Fullest", "4,500 psi", "fullest", "memory", "Portable oxygen "),
    ]


@pytest.mark.parametrize(
    ("value", "unit", "possible"),
    [
        *((2000, "psi", True), (200, "bar", True), (300, "bar", True), (4500, "psi", True)),
        *((4501, "psi", False), (2000, "bar", False), (310.3, "bar", False), (310.2, "bar", True)),
    ],
)
def test_more_than_any_cylinder_holds_is_a_slip(value: float, unit: str, possible: bool) -> None:
    """4,500 psi are 310.26 bar (NIST SP 811); the strongest portable cylinders hold 300 bar (from memory)."""
    assert oxygen.possible(Amount(value, unit)) is possible
