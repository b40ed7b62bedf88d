"""All that can be measured, one entry each: API, crew's form, cards, charts, alarms and rule sets follow from it."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import force_setattr

from dosing.ground.language import gettext as _

MAIN, MORE = "main", "more"  # the form's own keys; folded away, typed by the phone's keyboard or chosen
SHORT_WORD = 7  # letters of a choice, four of which stand side by side


class Alarm(Struct, frozen=True):
    """How it alarms beyond the limits of a rule set: its ``place`` among all alarms, and the words for each side.

    Measurements of one ``cause`` raise one alert. ``kind`` is the alert's.
    """

    place: int
    low: str = "low"
    high: str = "high"
    cause: str = ""
    kind: str = "vital_sign"


class Told(Struct, frozen=True):
    """What a measurement in another unit is: ``name``, of whose unit one of its own makes so many."""

    name: str
    times: int


class Measurement(Struct, frozen=True):
    """One thing that can be measured. It is a number within ``range``, one of some ``choices``, or a text.

    Names: ``name`` is the contract's, ``short`` stands on a card, ``long`` in a sentence, ``title`` over a chart,
    ``label`` and ``beside`` around the form's field, and ``said`` is how the crew's phone tells a value.
    ``choices`` are the API's codes with the words on their buttons, ``spoken`` those said in other words.
    ``in_rules`` is the unit in a rule set. ``of`` says of which measurement it is another unit: rules, cards and alarms
    know that one only. Places: ``form``; ``lane``, the trend and a lane of the chart, by the least
    height and the step of its axis; ``card``, the lower the earlier among all further measurements; ``handover``.
    """

    name: str
    short: str
    unit: str = ""
    range: tuple[float, float] | None = None
    choices: Mapping[str, str] = {}
    spoken: Mapping[str, str] = {}
    longest: int = 0
    note: str = ""
    long: str = ""
    title: str = ""
    label: str = ""
    beside: str = ""
    said: str = ""
    in_rules: str = ""
    of: Told | None = None
    form: str = ""
    lane: tuple[int, int] = (0, 0)
    card: int = 50
    handover: bool = False
    alarm: Alarm | None = None

    def __post_init__(self) -> None:
        """Work out the names that are not stated from those that are."""
        label, long = self.label or self.short, self.long or _inside(self.short)
        told = "" if self.unit in ("", "/min", "%", "mmHg") else f" {self.unit}"
        names = {"label": label, "long": long, "title": self.title or long[:1].upper() + long[1:]}
        names |= {"beside": self.beside or self.unit, "in_rules": self.in_rules or self.unit}
        names["said"] = self.said or f"{_inside(label)} {{}}{told}"
        for name, value in names.items():
            force_setattr(self, name, value)

    @property
    def across(self) -> int:
        """How many choices stand side by side."""
        return 4 if len(self.choices) >= 4 and max(map(len, self.choices.values())) <= SHORT_WORD else 2


def _inside(name: str) -> str:
    """A name inside a sentence: ``Glucose`` loses its capital, ``SpO2`` and ``HR`` keep theirs."""
    return name if name[1:] != name[1:].lower() else name.lower()


METHODS = {"cuff": _("Cuff"), "manual": _("Manual cuff"), "palpated": _("Palpated"), "arterial": _("Arterial line"),
           "unobtainable": _("Unobtainable")}  # fmt: skip
BY_METHOD = {"manual": _("manual cuff"), "arterial": _("arterial line")}
PULSES = {"radial": _("Radial"), "femoral": _("Femoral"), "carotid": _("Carotid"), "none": _("None")}
ALERTNESS = {"A": _("Alert"), "V": _("Voice"), "P": _("Pain"), "U": _("Unresponsive")}
ALERT = {"A": _("alert"), "V": _("responds to voice"), "P": _("responds to pain"), "U": _("unresponsive")}
LUNGS = {"clear": _("Clear"), "crackles": _("Crackles"), "wheeze": _("Wheeze"), "diminished": _("Diminished")}
PRESSURE = ("sbp", "dbp", "bp_method")  # told as one

# In the order of the crew's form.
MEASUREMENTS = (
    Measurement("sbp", _("Systolic"), "mmHg", (20, 300), form=MAIN),
    Measurement("dbp", _("Diastolic"), "mmHg", (0, 200), note="needs sbp, and lies below it", form=MAIN),
    Measurement("bp_method", _("Taken by"), choices=METHODS, spoken=BY_METHOD),
    Measurement("pulses", _("Pulse felt"), choices=PULSES, spoken={"none": _("no")}, label=_("Pulses felt"),
                said=_("{} pulse"), note="what can be felt when no pressure can be obtained"),
    Measurement("hr", "HR", "/min", (0, 350), long=_("heart rate"), in_rules="beats per min", form=MAIN, lane=(20, 10),
                alarm=Alarm(1, "slow", "fast")),
    Measurement("spo2", _("SpO2"), "%", (0, 100), form=MAIN, lane=(8, 2), alarm=Alarm(2, kind="low_saturation")),
    Measurement("map_reported", _("MAP (monitor)"), "mmHg", (10, 250), note="as the monitor tells it",
                label=_("Monitor"), beside="MAP", said=_("monitor MAP {}"), form=MAIN, card=99),
    Measurement("rr", "RR", "/min", (0, 120), long=_("breathing rate"), title=_("Breathing"),
                in_rules="breaths per min", form=MAIN, lane=(10, 4),
                alarm=Alarm(3, "slow", "fast", kind="slow_breathing")),
    Measurement("etco2", _("EtCO2"), "mmHg", (0, 150), form=MAIN, lane=(12, 4), alarm=Alarm(7)),
    Measurement("cap_refill_s", _("Cap refill"), "s", (0, 20), label=_("Refill"), form=MAIN, card=4),
    Measurement("avpu", _("Alertness"), choices=ALERTNESS, spoken=ALERT, said="{}", form=MORE, card=3,
                alarm=Alarm(6, cause="alertness")),
    Measurement("lungs", _("Lungs"), choices=LUNGS, form=MORE, card=1, handover=True),
    Measurement("gcs", "GCS", "", (3, 15), label=_("GCS total"), beside="3–15", said="GCS {}", in_rules="points",
                form=MORE, card=2, alarm=Alarm(5, cause="alertness")),
    Measurement("temp_c", _("Temperature"), "°C", (10, 45), label=_("Temp"), form=MORE, card=6, handover=True,
                alarm=Alarm(8)),
    Measurement("glucose_mg_dl", _("Glucose"), "mg/dL", (5, 2000), form=MORE, card=7, handover=True, alarm=Alarm(4)),
    # Contract, "Vitals": 18 mg/dL to 1 mmol/L, which is 18.016 by the molar mass of glucose, 180.16.
    Measurement("glucose_mmol_l", _("Glucose"), "mmol/L", (0.3, 111), of=Told("glucose_mg_dl", 18),
                note="instead of glucose_mg_dl"),
    Measurement("lactate_mmol_l", _("Lactate"), "mmol/L", (0, 30), form=MORE, card=5),
    Measurement("hb_g_dl", _("Hemoglobin"), "g/dL", (0, 30), form=MORE, card=9),
    Measurement("oxygen_l_min", _("Oxygen"), "L/min", (0, 100), form=MORE, card=11, handover=True),
    Measurement("glucose_flag", _("Glucose"), choices={"low": _("Low"), "high": _("High")}, form=MORE, card=8,
                handover=True, note="what a meter shows beyond its range", label=_("Glucose meter shows a word"),
                said=_("glucose meter: {}"), alarm=Alarm(4, cause="glucose_mg_dl")),
    Measurement("rhythm", _("Rhythm"), longest=100, form=MORE, card=10, handover=True),
    Measurement("pupils", _("Pupils"), longest=100),
    Measurement("skin", _("Skin"), longest=100),
)  # fmt: skip
BY_NAME = {each.name: each for each in MEASUREMENTS}
ALARMS = {each.name: each.alarm for each in MEASUREMENTS if each.alarm}
IN_OTHER_UNITS = {each.name: each.of for each in MEASUREMENTS if each.of}
LANED = tuple(each for each in MEASUREMENTS if any(each.lane))
