"""The filter of the list of past cases: what may be asked, and what it means for the query."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils import timezone

from consult.access import PHYSICIANS
from consult.models import Membership, Unit
from consult.render.words import plain
from consult.screens.crew_choices import IMPRESSIONS
from dosing.ground.kinds import ALERTS
from dosing.ground.language import gettext as _

ANY = ("", _("Any"))
DAY = forms.DateInput(
    format="%Y-%m-%d",
    attrs={"class": "input", "placeholder": "2030-01-05", "pattern": r"\d{4}-\d{2}-\d{2}", "maxlength": 10},
)
# As the API's times: beyond them a day has no midnight of its own that could be reckoned.
A_DAY = [MinValueValidator(date(1900, 1, 1)), MaxValueValidator(date(2199, 12, 31))]


class HistoryFilter(forms.Form):
    """Which past cases to list; every field may stay empty."""

    q = forms.CharField(label=_("Complaint contains"), required=False, max_length=100)
    unit = forms.ChoiceField(label=_("Unit"), required=False)
    physician = forms.ChoiceField(label=_("Physician"), required=False)
    impression = forms.ChoiceField(label=_("Impression"), required=False, choices=(ANY, *IMPRESSIONS))
    alert = forms.ChoiceField(
        label=_("Alert"), required=False, choices=(ANY, *((kind, plain(kind).capitalize()) for kind in ALERTS))
    )
    state = forms.ChoiceField(
        label=_("State"), required=False, choices=(ANY, ("ended", _("Ended")), ("open", _("Still open")))
    )
    since = forms.DateField(label=_("From"), required=False, widget=DAY, validators=A_DAY)
    until = forms.DateField(label=_("To"), required=False, widget=DAY, validators=A_DAY)
    outside = forms.BooleanField(label=_("outside limits only"), required=False)

    def __init__(self, *args: Any, agency: UUID, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        units = Unit.objects.filter(agency_id=agency).order_by("call_sign").values_list("pk", "call_sign")
        physicians = Membership.objects.filter(agency_id=agency, role__in=PHYSICIANS).order_by("name")
        self._choices("unit", [(str(pk), call_sign) for pk, call_sign in units])
        self._choices("physician", [(str(pk), name) for pk, name in physicians.values_list("pk", "name")])
        for name, field in self.fields.items():
            if name != "outside":
                field.widget.attrs["class"] = "input"

    def _choices(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - narrows the type, both are declared above
        field.choices = [ANY, *choices]

    def filters(self) -> dict[str, Any]:
        """The words of ``search.history``; a day begins and ends at midnight of the pages' time zone."""
        if not self.is_valid():
            return {}
        data = self.cleaned_data
        wanted = {
            "text": data["q"],
            "unit": data["unit"],
            "physician": data["physician"],
            "impression": data["impression"],
            "alert": data["alert"],
            "opened_from": data["since"] and _midnight(data["since"]),
            "opened_to": data["until"] and _midnight(data["until"] + timedelta(days=1)) - timedelta(microseconds=1),
            "outside_limits": data["outside"],
        }
        found = {name: value for name, value in wanted.items() if value}
        return {**found, "ended": data["state"] == "ended"} if data["state"] else found


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time())).astimezone(UTC)
