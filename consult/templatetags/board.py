"""Filters of the templates: clock times from the card's ISO texts, and small text helpers."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import template

from consult import clock as clocks
from consult import zone
from consult.chart import svg
from consult.render import words as words_of
from dosing.ground import text
from dosing.ground.facts import Amount
from dosing.rules.words import MARKS_TOLD

register = template.Library()


def _moment(value: str | datetime) -> datetime:
    return value if isinstance(value, datetime) else datetime.fromisoformat(value)


@register.filter
def clock(value: str | datetime | None) -> str:
    """Hours and minutes of an ISO text or a time here, of another day after that; an empty text without one."""
    return zone.moment(_moment(value)) if value else ""


@register.filter
def clock_seconds(value: str | datetime | None) -> str:
    """The same with seconds."""
    return zone.moment_seconds(_moment(value)) if value else ""


@register.filter
def here(text: str) -> str:
    """A kept text with its clock times as they are read here."""
    return zone.here(text, clocks.now())


@register.filter
def time_of_day(value: datetime) -> str:
    """Hours and minutes beside which the date stands."""
    return zone.clock(value)


@register.filter
def iso(value: str | datetime) -> str:
    """A time as ISO 8601 text, for the page's clock."""
    return value if isinstance(value, str) else value.isoformat()


@register.filter
def number(value: float) -> str:
    """A coordinate with at most one decimal."""
    return svg.number(value)


@register.filter
def plain(value: str | None) -> str:
    """A code of the API as words."""
    return words_of.plain(value or "")


@register.filter
def number_in(key: object, numbers: Mapping[object, int]) -> int:
    """The number by which a list knows it."""
    return numbers[key]


@register.filter
def mark_told(mark: str) -> str:
    """How well a source is known, in the words of the pages."""
    return MARKS_TOLD.get(mark, mark)


@register.filter
def words(value: str) -> list[str]:
    """The words of a text, to loop over."""
    return value.split()


@register.filter
def amount(value: Mapping[str, Any]) -> str:
    """A number with its unit, as people read it: ``0.1 mcg/kg/min``."""
    return text.amount_text(Amount(value["value"], value["unit"]))


register.filter(text.route_text)
register.filter(text.unit_text)
register.filter(words_of.value_text)
