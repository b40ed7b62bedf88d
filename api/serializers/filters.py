"""What a list can be narrowed by; what is not a filter of it is passed over, as usual for addresses."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict

from api.fields import Choice, Flag, Id, Number, Text, Time
from api.serializers.cases import IMPRESSIONS
from api.shape import Shape

FLAGS = {"true": True, "false": False, "1": True, "0": False}


class Filter(Shape):
    """Query parameters, read as strictly as a body; an empty one counts as absent."""

    @classmethod
    def of(cls, query: QueryDict) -> dict[str, Any]:
        """The filters that were given, by name; a value that cannot be one is 422 at its name."""
        shape = cls()
        given: dict[str, Any] = {}
        for name in cls._declared_fields:
            text, field = query.get(name), shape.fields[name]
            if text:
                given[name] = FLAGS.get(text, text) if isinstance(field, Flag) else text
        read: dict[str, Any] = shape.run_validation(given)
        return read


class CaseFilter(Filter):
    """Cases by their state."""

    state = Choice(("open", "handed_over", "closed"), required=False)


class AlertFilter(Filter):
    """Alerts by where they stand and by case."""

    state = Choice(("raised", "acknowledged", "cleared"), required=False)
    case = Id(required=False)


class JournalFilter(Filter):
    """Entries after a number."""

    after = Number(0, 2**31 - 1, whole=True, required=False)


class VerifyFilter(Filter):
    """One case, to be verified now."""

    case = Id(required=False)


class AgencyFilter(Filter):
    """For a person with several agencies: which one."""

    agency = Id(required=False)


class HistoryFilter(Filter):
    """Past cases by who, what and when."""

    unit = Id(required=False, help_text="one that has the patient, or had before a move")
    physician = Id(required=False, help_text="one who had control, decided, ordered or instructed")
    impression = Choice(IMPRESSIONS, required=False)
    opened_from = Time(required=False)
    opened_to = Time(required=False)
    alert = Text(30, required=False, help_text="a kind of alert that was raised")
    outside_limits = Flag(required=False)
    text = Text(100, required=False, help_text="in the complaint")
