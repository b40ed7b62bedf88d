"""Reads one treatment of a rule set file."""

from __future__ import annotations

from collections.abc import Mapping

from dosing import text, units
from dosing.limits_bands import LIMITS
from dosing.rule_set import (
    Band,
    Caution,
    Lasts,
    ReassessmentRule,
    Recipe,
    Shared,
    Step,
    Strength,
    Treatment,
    Wants,
    Where,
    Window,
)
from dosing.rule_set_table import Table

CLASSES = frozenset({"pressor", "sedative", "fluid", "blood", "other"})
FORMS = frozenset({"push", "bolus", "infusion", "im"})
ROUTES = frozenset({"IV", "IO", "IM", "IN", "SC", "PO"})
FLAGS = frozenset(
    {"pressure_above_goal", "no_fluid_yet", "bleeding_first", "no_pressure_since_last_dose", "crackles"}
    | {"fluid_restricted", "measurable"}
)
_EDGES = ("from_kg", "under_kg", "from_days", "under_days")


def read_treatment(slug: str, table: Table, tall_man: Mapping[str, str]) -> Treatment:
    """The treatment in ``table``; its faults are noted in the table's book."""
    bag = table.figure("bag")
    reassessment = _reassessment(table.table("reassessment")) if "reassessment" in table.values else None
    treatment = Treatment(
        slug=slug,
        title=text.drug_text(table.text("title"), tall_man),
        drug=table.text("drug"),
        drug_class=table.word("class", CLASSES),
        form=table.word("form", FORMS),
        routes=_allowed(table, "routes", ROUTES),
        unit=_unit(table),
        units={who: _kinds(table, who) for who in ("adult", "child")},
        bands=tuple(_band(band, bag.value if bag else None) for band in table.tables("bands")),
        source=table.source(),
        interval=table.figure("interval"),
        shortest=table.figure("shortest"),
        within=table.figure("within"),
        lasts=_lasts(table.table("lasts")) if "lasts" in table.values else None,
        stocks=_strengths(table, "stocks"),
        concentrations=_strengths(table, "concentrations"),
        recipe=_recipe(table.table("recipe"), tall_man) if "recipe" in table.values else None,
        mixes=tuple(mix for item in table.tables("mixes") if (mix := _recipe(item, tall_man)) is not None),
        reassessment=reassessment,
        starts_by_order=table.source("starts_by_order") if "starts_by_order" in table.values else None,
        bag=bag,
        elemental=table.figure("elemental"),
        count_by_volume=bool(table.flag("count_by_volume")),
        shared=_shared(table.table("shared")) if "shared" in table.values else None,
        window=_window(table.table("window")) if "window" in table.values else None,
        wants=tuple(_wants(wants) for wants in table.tables("wants")),
        flags=_allowed(table, "flags", FLAGS),
        never_gated_in=table.words("never_gated_in"),
        allergens=table.words("allergens"),
        relevant=table.words("relevant"),
        cautions=tuple(_caution(caution, tall_man) for caution in table.tables("cautions")),
    )
    table.close()
    return treatment


def _lasts(table: Table) -> Lasts:
    lasts = Lasts(least=table.need_number("least"), most=table.need_number("most"), source=table.source())
    table.close()
    return lasts


def _unit(table: Table) -> str:
    unit = table.text("unit")
    try:
        units.kind(unit)
    except units.WrongUnit as error:
        table.fault("unit", str(error))
    return unit


def _kinds(table: Table, who: str) -> frozenset[str]:
    """The kinds in which this treatment is stated for an adult or a child: the key ``units`` or ``units_adult``."""
    stated = table.words("units") | table.words(f"units_{who}")
    kinds = set()
    for unit in stated:
        try:
            kinds.add(units.kind(unit))
        except units.WrongUnit as error:
            table.fault("units", str(error))
    if not kinds:
        table.fault("units", f"no unit is said for the {who}")
    return frozenset(kinds)


def _allowed(table: Table, key: str, allowed: frozenset[str]) -> frozenset[str]:
    found = table.words(key)
    for word in sorted(found - allowed):
        table.fault(key, f"holds {word!r}, not one of {', '.join(sorted(allowed))}")
    return found


def _where(table: Table) -> Where:
    edges = {edge: table.number(edge) for edge in _EDGES}
    sourced = any(edge is not None for edge in edges.values()) or "source" in table.values
    return Where(
        who=table.text("who", needed=False) or None,
        impressions=table.words("impressions"),
        weight=table.text("weight", needed=False) or None,
        below_goal=table.flag("below_goal"),
        bleeding_causes=table.words("bleeding_causes"),
        source=table.source() if sourced else None,
        **edges,
    )


def _band(table: Table, bag_ml: float | None) -> Band:
    band = Band(
        where=_where(table),
        **{name: table.limit(name, bag_ml) for name in LIMITS},
        count=table.figure("count"),
        by_order=_reason(table, "by_order"),
        not_covered=_reason(table, "not_covered"),
    )
    table.close()
    return band


def _reason(table: Table, key: str) -> Caution | None:
    return _caution(table.table(key), {}) if key in table.values else None


def _caution(table: Table, tall_man: Mapping[str, str]) -> Caution:
    where = _where(table.table("where")) if "where" in table.values else None
    caution = Caution(text=text.drug_text(table.text("text"), tall_man), source=table.source(), where=where)
    table.close()
    return caution


def _strengths(table: Table, key: str) -> tuple[Strength, ...]:
    return tuple(strength for item in table.tables(key) if (strength := item.strength()) is not None)


def _recipe(table: Table, tall_man: Mapping[str, str]) -> Recipe | None:
    stock, makes = table.table("stock").strength(), table.table("makes").strength()
    ways = table.table("ways")
    if stock is None or makes is None:
        return None
    recipe = Recipe(
        stock=stock,
        makes=makes,
        ways={name: tuple(_step(step, stock, tall_man) for step in ways.tables(name)) for name in ways.values},
        source=table.source(),
        prefilled=table.table("prefilled").strength() if "prefilled" in table.values else None,
        nominal=bool(table.flag("nominal")),
        warning=_caution(table.table("warning"), tall_man) if "warning" in table.values else None,
        notes=tuple(_caution(note, tall_man) for note in table.tables("notes")),
    )
    table.close()
    return recipe


def _step(table: Table, stock: Strength, tall_man: Mapping[str, str]) -> Step:
    """A step; what it adds is diluent unless ``drug`` says that it is the stock."""
    drug = table.flag("drug")
    step = Step(
        action=table.word("action", {"add", "expel", "draw", "label", "do"}),
        text=text.drug_text(table.text("text"), tall_man),
        volume=table.amount("volume"),
        strength=stock.amount if drug else None,
        vessel=table.word("vessel", {"syringe", "bag"}) if "vessel" in table.values else "syringe",
    )
    table.close()
    return step


def _reassessment(table: Table) -> ReassessmentRule:
    rule = ReassessmentRule(
        due_min=table.need_number("due_min"),
        grace_s=table.need_number("grace_s"),
        needs=tuple(sorted(table.words("needs"))),
        counts_from_min=table.number("counts_from_min") or 0,
        counts_from_end=bool(table.flag("counts_from_end")),
        max_min=table.number("max_min"),
        source=table.source(),
    )
    table.close()
    return rule


def _window(table: Table) -> Window:
    window = Window(minutes=table.need_number("minutes"), causes=table.words("causes"), source=table.source())
    table.close()
    return window


def _shared(table: Table) -> Shared:
    shared = Shared(treatments=table.words("treatments"), per_bags=table.number("per_bags"), source=table.source())
    table.close()
    return shared


def _wants(table: Table) -> Wants:
    by_who = table.table("below_by_who", needed=False)
    wants = Wants(
        text=table.text("text"),
        source=table.source(),
        measurement=table.text("measurement", needed=False),
        below=table.number("below"),
        at_least=table.number("at_least"),
        below_by_who={who: by_who.need_number(who) for who in by_who.values},
        history=table.text("history", needed=False),
        not_impressions=table.words("not_impressions"),
        opens=bool(table.flag("opens")),
        ungated=bool(table.flag("ungated")),
    )
    table.close()
    return wants
