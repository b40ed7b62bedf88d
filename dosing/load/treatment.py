"""Reads one treatment of a rule set file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import isfinite

from dosing.check.bands import LIMITS
from dosing.ground import text, units
from dosing.load import conditions
from dosing.load import words as words_of
from dosing.load.table import Table
from dosing.patient.reassess import NEEDS
from dosing.rules.rule_set import Band, Caution, Lasts, ReassessmentRule, Recipe, Step, Strength, Treatment, Where

_EDGES = ("from_kg", "under_kg", "from_days", "under_days")


def read_treatment(slug: str, table: Table, tall_man: Mapping[str, str]) -> Treatment:
    """The treatment in ``table``; its faults are noted in the table's book."""
    bag = table.figure("bag")
    bag_ml = bag.value if bag and isfinite(bag.value) and bag.value > 0 else None
    treatment = Treatment(
        slug=slug,
        title=text.drug_text(table.text("title"), tall_man),
        drug=table.text("drug"),
        drug_class=table.word("class", words_of.CLASSES),
        form=table.word("form", words_of.FORMS),
        routes=_routes(table),
        unit=_unit(table),
        units={who: _kinds(table, who) for who in ("adult", "child")},
        bands=tuple(_band(band, bag_ml) for band in table.tables("bands")),
        source=table.source(),
        interval=table.figure("interval"),
        shortest=table.figure("shortest"),
        within=table.figure("within"),
        lasts=_lasts(table.table("lasts")) if "lasts" in table.values else None,
        stocks=_strengths(table, "stocks", tall_man),
        concentrations=_strengths(table, "concentrations", tall_man),
        recipe=_recipe(table.table("recipe"), tall_man) if "recipe" in table.values else None,
        mixes=tuple(mix for item in table.tables("mixes") if (mix := _recipe(item, tall_man)) is not None),
        reassessment=_reassessment(table.table("reassessment")) if "reassessment" in table.values else None,
        starts_by_order=table.source("starts_by_order") if "starts_by_order" in table.values else None,
        bag=bag,
        elemental=table.figure("elemental"),
        count_by_volume=bool(table.flag("count_by_volume")),
        shared=conditions.shared(table.table("shared")) if "shared" in table.values else None,
        window=conditions.window(table.table("window")) if "window" in table.values else None,
        wants=tuple(conditions.wants(each) for each in table.tables("wants")),
        flags=table.words("flags", words_of.FLAGS),
        never_gated_in=table.words("never_gated_in", words_of.IMPRESSIONS),
        allergens=table.words("allergens"),
        relevant=table.words("relevant", words_of.IMPRESSIONS),
        first=_first(table.table("first")) if "first" in table.values else None,
        cautions=tuple(_caution(caution, tall_man) for caution in table.tables("cautions")),
    )
    table.close()
    return treatment


def _lasts(table: Table) -> Lasts:
    lasts = Lasts(least=table.need_number("least"), most=table.need_number("most"), source=table.source())
    if lasts.least > lasts.most:
        table.fault("least", "exceeds most")
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


def _routes(table: Table) -> frozenset[str]:
    found = table.words("routes", words_of.ROUTES)
    if not found:
        table.fault("routes", "no route is said")
    return found


def _closed_where(table: Table) -> Where:
    where = _where(table)
    table.close()
    return where


def _first(table: Table) -> Where:
    if "source" not in table.values:
        table.fault("source", "is missing")
    return _closed_where(table)


def _where(table: Table) -> Where:
    edges = {edge: table.number(edge) for edge in _EDGES}
    sourced = any(edge is not None for edge in edges.values()) or "source" in table.values
    for start, end in (("from_kg", "under_kg"), ("from_days", "under_days")):
        low, high = edges[start], edges[end]
        if high is not None and high <= (low or 0):
            table.fault(end, f"is {high}, not above {start}: it is for nobody")
    return Where(
        who=table.word("who", words_of.WHO, needed=False) or None,
        impressions=table.words("impressions", words_of.IMPRESSIONS),
        weight=table.word("weight", words_of.WEIGHT, needed=False) or None,
        pressure_low=table.flag("pressure_low"),
        bleeding_causes=table.words("bleeding_causes", words_of.BLEEDING_CAUSES),
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
    where = _closed_where(table.table("where")) if "where" in table.values else None
    caution = Caution(text=text.drug_text(table.text("text"), tall_man), source=table.source(), where=where)
    table.close()
    return caution


def _strengths(table: Table, key: str, tall_man: Mapping[str, str]) -> tuple[Strength, ...]:
    return tuple(each for item in table.tables(key) if (each := _stocked(item, tall_man)) is not None)


def _stocked(table: Table, tall_man: Mapping[str, str]) -> Strength | None:
    avoid = _caution(table.table("avoid"), tall_man) if "avoid" in table.values else None
    strength = table.strength()
    return None if strength is None else replace(strength, avoid=avoid)


def _recipe(table: Table, tall_man: Mapping[str, str]) -> Recipe | None:
    stock, makes = table.table("stock").strength(), table.table("makes").strength()
    ways = table.table("ways")
    if not ways.values:
        ways.fault("", "holds no way to prepare it")
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
        action=table.word("action", words_of.ACTIONS),
        text=text.drug_text(table.text("text"), tall_man),
        volume=table.amount("volume"),
        strength=stock.amount if drug else None,
        vessel=table.word("vessel", words_of.VESSELS) if "vessel" in table.values else "syringe",
    )
    if step.volume is not None and units.kind(step.volume.unit) != "volume":
        table.fault("volume", f"is {step.volume.unit}, not a volume")
    table.close()
    return step


def _reassessment(table: Table) -> ReassessmentRule:
    rule = ReassessmentRule(
        due_min=table.need_number("due_min"),
        grace_s=table.need_number("grace_s"),
        needs=tuple(sorted(table.words("needs", NEEDS))),
        counts_from_min=table.number("counts_from_min") or 0,
        counts_from_end=bool(table.flag("counts_from_end")),
        max_min=table.number("max_min"),
        source=table.source(),
    )
    if not rule.needs:
        table.fault("needs", "no reading is said that it needs")
    table.close()
    return rule
