"""Amounts as people read them, safe by the list of error-prone notations; the only place that rounds.

No trailing zero, always a leading zero, commas from 1,000, a space before the unit, "per mL" for strengths. From
1,000 mg upward an amount reads in g, 1 g and 1.05 g, as prescriptions are written (national formulary, from memory);
mcg stay mcg, because the pushes that they add up from and the label on the syringe are in mcg.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _

_DIGITS = 3
_MOST_DIGITS = 12
_ROUTES = {"IN": _("intranasal"), "SC": _("subcut")}  # as two letters both are on the list, misread as IM, IV or SL
_MG_A_GRAM = 1000


def number_text(value: float | Fraction, digits: int = _DIGITS) -> str:
    """The number with ``digits`` significant digits, whole part never cut: 615, 26.3, 0.125, 1,250."""
    exact = (
        Decimal(value.numerator) / Decimal(value.denominator) if isinstance(value, Fraction) else Decimal(str(value))
    )
    places = max(0, digits - 1 - exact.adjusted()) if exact else 0
    rounded = exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    shown = f"{rounded:,f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def amount_text(amount: Amount) -> str:
    """An amount such as ``10 mcg``, ``1 g``, ``0.1 mcg/kg/min``, ``2 bags`` or ``10 mcg per mL``."""
    return _amount_text(amount, _DIGITS)


def _amount_text(amount: Amount, digits: int) -> str:
    if amount.unit == "mg" and amount.value >= _MG_A_GRAM:
        whole = len(str(int(amount.value)))  # no whole milligram is cut off: 1,234 mg is 1.234 g
        return f"{number_text(Fraction(str(amount.value)) / _MG_A_GRAM, max(digits, whole))} g"
    return f"{number_text(amount.value, digits)} {_unit_text(amount)}"


def _unit_text(amount: Amount) -> str:
    if amount.unit == "bag":
        return _("bag") if amount.value == 1 else _("bags")
    if amount.unit in ("units", "units/mL") and amount.value == 1:
        return unit_text(amount.unit).replace("units", "unit")
    return unit_text(amount.unit)


def unit_text(unit: str) -> str:
    """A unit as a person reads it: strengths per mL, where a slash has been taken for a 1."""
    return unit.replace("/mL", " per mL")


def apart_text(amount: Amount, other: Amount) -> tuple[str, str]:
    """Both amounts, with as many digits as it takes to tell them apart where they differ."""
    if amount.unit != other.unit or amount.value == other.value:
        return amount_text(amount), amount_text(other)
    for digits in range(_DIGITS, _MOST_DIGITS):
        shown = _amount_text(amount, digits), _amount_text(other, digits)
        if shown[0] != shown[1]:
            break
    return shown


def minutes_text(minutes: float | Fraction) -> str:
    """A length of time: ``2 min``, ``3 h``, ``2 h 5 min``, ``45 s`` where it is under a minute."""
    seconds = round(minutes * 60)
    if seconds < 60:
        return f"{seconds} s"
    hours, rest = divmod(seconds // 60, 60)
    if not hours:
        return f"{number_text(Fraction(seconds, 60), 2)} min"
    return f"{hours} h" + (f" {rest} min" if rest else "")


def clock(moment: datetime) -> str:
    """A time of day as texts that are kept say it."""
    return f"{moment.astimezone(UTC):%H:%M} UTC"


def over_text(minutes: float | None, bound: str = "") -> str:
    """In how long a dose is given, to stand behind it: `` over 10 min``; nothing where that is not said.

    ``bound`` stands before the time: ``at least``.
    """
    return "" if minutes is None else _(" over {bound}{minutes}", bound=bound, minutes=minutes_text(minutes))


def either_text(names: Iterable[str]) -> str:
    """Names of which one holds: ``one, two or three``."""
    *others, last = names
    return _("{others} or {last}", others=", ".join(others), last=last) if others else last


def drug_text(name: str, tall_man: Mapping[str, str]) -> str:
    """A name with its listed parts in tall-man letters: ``epinephrine`` becomes ``EPINEPHrine``; others stay."""
    for plain, tall in tall_man.items():
        name = re.sub(rf"\b{re.escape(plain)}\b", tall, name, flags=re.IGNORECASE)
    return name


def route_text(route: str) -> str:
    """A route as a person reads it: ``intranasal`` and ``subcut`` for the codes IN and SC, others as they are."""
    return _ROUTES.get(route, route)
