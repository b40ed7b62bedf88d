"""One invented treatment that says all that a treatment can, read whole; and each way in which one is refused."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from dosing.ground import units
from dosing.ground.facts import Amount
from dosing.load.book import Book
from dosing.load.table import Table, read
from dosing.rules.parts import First, Stocked
from dosing.rules.rule_set import (
    Band,
    Caution,
    Figure,
    Lasts,
    Limit,
    ReassessmentRule,
    Recipe,
    Shared,
    Source,
    Step,
    Strength,
    Treatment,
    Where,
    Window,
)

LABEL, PAGE = Source("label", "the label", "read"), Source("page", "a page", "memory")
SAID = {"source": "label"}
TALL = {"brindlamine": "BRINDLamine"}
STEPS = [
    {"action": "add", "text": "9 mL into brindlamine's syringe", "volume": "9 mL", "vessel": "bag"},
    {"action": "add", "text": "the vial", "volume": "1 mL", "drug": True},
    {"action": "label", "text": "label"},
]
RECIPE = {
    "stock": {"amount": "0.1 mg/mL", "name": "vial", **SAID},
    "makes": {"amount": "10 mcg/mL", **SAID},
    "ways": {"one": STEPS},
    "prefilled": {"amount": "10 mcg/mL", "name": "ready", **SAID},
    "nominal": True,
    "warning": {"text": "never hang brindlamine", **SAID},
    "notes": [{"text": "flush", "source": "page"}],
    **SAID,
}
WHOLE = {
    "title": "brindlamine push",
    "drug": "brindlamine",
    "class": "pressor",
    "form": "push",
    "routes": ["IV", "IO"],
    "unit": "mcg",
    "units": ["mcg"],
    "units_adult": ["mcg/kg"],
    "units_child": ["mg"],
    "source": "page",
    "interval": {"value": 2, "unit": "min", **SAID},
    "shortest": {"value": 3, "unit": "min", **SAID},
    "within": {"value": 4, "unit": "min", **SAID},
    "bag": {"value": 300, "unit": "mL", **SAID},
    "elemental": {"value": 9, "unit": "mg/mL", **SAID},
    "lasts": {"least": 5, "most": 10, **SAID},
    "stocks": [{"amount": "1 mg/mL", **SAID}],
    "concentrations": [{"amount": "4 mcg/mL", **SAID}],
    "recipe": RECIPE,
    "mixes": [{key: RECIPE[key] for key in ("stock", "makes", "ways", "source")}],
    "reassessment": {
        "due_min": 2,
        "grace_s": 60,
        "needs": ["pressure", "hr"],
        "counts_from_min": 1,
        "counts_from_end": True,
        "max_min": 9,
        **SAID,
    },
    "starts_by_order": "page",
    "count_by_volume": True,
    "shared": {"treatments": ["other"], **SAID},
    "window": {"minutes": 180, "causes": ["trauma"], **SAID},
    "wants": [{"text": "slow first", "measurement": "hr", "below": 60, **SAID}],
    "flags": ["crackles"],
    "never_gated_in": ["anaphylactic"],
    "allergens": ["sulfite"],
    "relevant": ["septic"],
    "first": {"who": "child", **SAID},
    "cautions": [{"text": "watch brindlamine", "where": {"who": "adult"}, **SAID}],
    "bands": [
        {
            "who": "child",
            "impressions": ["septic"],
            "weight": "known",
            "from_kg": 3,
            "under_kg": 50,
            "from_days": 28,
            "under_days": 4000,
            "pressure_low": True,
            "bleeding_causes": ["gut"],
            "least": {"amount": "1 mcg", **SAID},
            "hard": {"amount": "2 bag", **SAID},
            "count": {"value": 5, "unit": "pushes", **SAID},
            "by_order": {"text": "by order", **SAID},
            "not_covered": {"text": "not covered", "source": "page"},
            **SAID,
        },
        {"who": "adult"},
    ],
}


def read_treatment(values: dict[str, Any]) -> tuple[Treatment, list[tuple[str, str]]]:
    book = Book("draft.toml", "")
    around = Table(book, "", {})
    around.found = {"sources": {"label": LABEL, "page": PAGE}, "tall_man": TALL}
    found = read(Treatment, Table(book, "at.brindlamine", values, around))
    assert found is not None
    return found, [(fault.entry.replace("at.brindlamine", "at"), fault.text) for fault in book.faults]


def strength(value: float, unit: str, name: str = "") -> Strength:
    amount = Amount(value, unit)
    return Strength(amount=amount, source=LABEL, exact=units.quantity(amount), name=name)


def stocked(value: float, unit: str) -> Stocked:
    amount = Amount(value, unit)
    return Stocked(amount=amount, source=LABEL, exact=units.quantity(amount))


def figure(value: float, unit: str) -> Figure:
    return Figure(value, unit, LABEL)


def limit(value: float, unit: str) -> Limit:
    amount = Amount(value, unit)
    return Limit(amount=amount, source=LABEL, exact=units.quantity(amount))


def test_all_that_a_treatment_can_say_is_read() -> None:
    found, faults = read_treatment(WHOLE)

    ways = {
        "one": (
            Step(action="add", text="9 mL into BRINDLamine's syringe", volume=Amount(9, "mL"), vessel="bag"),
            Step(action="add", text="the vial", volume=Amount(1, "mL"), strength=Amount(0.1, "mg/mL")),
            Step(action="label", text="label"),
        )
    }
    mixed = {"stock": strength(0.1, "mg/mL", "vial"), "makes": strength(10, "mcg/mL"), "ways": ways, "source": LABEL}
    of_child = Where(
        who="child",
        impressions=frozenset({"septic"}),
        weight="known",
        from_kg=3,
        under_kg=50,
        from_days=28,
        under_days=4000,
        pressure_low=True,
        bleeding_causes=frozenset({"gut"}),
        source=LABEL,
    )
    assert faults == []
    assert found.recipe == Recipe(
        **mixed,
        prefilled=strength(10, "mcg/mL", "ready"),
        nominal=True,
        warning=Caution(text="never hang BRINDLamine", source=LABEL, where=None),
        notes=(Caution(text="flush", source=PAGE, where=None),),
    )
    assert found.mixes == (Recipe(**mixed),)
    assert found.mixes[0].nominal is False
    assert found.bands == (
        Band(
            where=of_child,
            least=limit(1, "mcg"),
            hard=limit(2, "bag"),
            count=figure(5, "pushes"),
            by_order=Caution(text="by order", source=LABEL, where=None),
            not_covered=Caution(text="not covered", source=PAGE, where=None),
        ),
        Band(where=Where(who="adult")),
    )
    assert found.bands[0].hard is not None
    assert found.bands[0].hard.exact == units.quantity(Amount(600, "mL"))
    assert found.reassessment == ReassessmentRule(
        due_min=2,
        grace_s=60,
        needs=("hr", "pressure"),
        counts_from_min=1,
        counts_from_end=True,
        max_min=9,
        source=LABEL,
    )


def test_its_single_entries_are_read_each_to_its_place() -> None:
    found, _ = read_treatment(WHOLE)

    assert (found.slug, found.title, found.drug) == ("brindlamine", "BRINDLamine push", "brindlamine")
    assert (found.drug_class, found.form, found.unit, found.source) == ("pressor", "push", "mcg", PAGE)
    assert found.routes == {"IV", "IO"}
    assert (found.kinds("adult"), found.kinds("child")) == ({"mass", "mass/kg"}, {"mass"})
    assert (found.interval, found.shortest) == (figure(2, "min"), figure(3, "min"))
    assert (found.within, found.bag, found.elemental) == (figure(4, "min"), figure(300, "mL"), figure(9, "mg/mL"))
    assert found.lasts == Lasts(5, 10, LABEL)
    assert (found.stocks, found.concentrations) == ((stocked(1, "mg/mL"),), (stocked(4, "mcg/mL"),))
    assert (found.starts_by_order, found.count_by_volume) == (PAGE, True)
    assert found.shared == Shared(treatments=frozenset({"other"}), source=LABEL)
    assert found.window == Window(minutes=180, causes=frozenset({"trauma"}), source=LABEL)
    assert [(each.text, each.below) for each in found.wants] == [("slow first", 60)]
    assert (found.flags, found.never_gated_in) == ({"crackles"}, {"anaphylactic"})
    assert (found.allergens, found.relevant) == ({"sulfite"}, {"septic"})
    assert found.first == First(who="child", source=LABEL)
    assert found.cautions == (Caution(text="watch BRINDLamine", source=LABEL, where=Where(who="adult")),)


def test_what_may_be_left_out_is_nothing() -> None:
    needed = ("title", "drug", "class", "form", "routes", "unit", "units", "source")
    found, faults = read_treatment({key: WHOLE[key] for key in needed})

    assert faults == []
    assert [getattr(found, name) for name in ("lasts", "recipe", "reassessment", "starts_by_order")] == [None] * 4
    assert [getattr(found, name) for name in ("shared", "window", "first", "interval", "bag")] == [None] * 5
    assert (found.bands, found.mixes, found.stocks, found.cautions, found.wants) == ((), (), (), (), ())
    assert (found.count_by_volume, found.flags) == (False, frozenset())


FAULTS = [
    (("routes",), [], "at.routes", "is empty"),
    (("routes",), ["ID"], "at.routes", "holds 'ID', not one of IM, IN, IO, IV, PO, SC"),
    (("class",), "drug", "at.class", "is 'drug', not one of blood, fluid, opioid, other, pressor, sedative"),
    (("form",), "pill", "at.form", "is 'pill', not one of bolus, im, infusion, push"),
    (("unit",), "ug", "at.unit", "is 'ug', not a unit that is used here"),
    (("units",), ["ug"], "at.units", "holds 'ug', not a unit that is used here"),
    (("more",), 1, "at.more", "is not a known entry"),
    (("lasts", "least"), 11, "at.lasts.least", "exceeds most"),
    (("lasts", "more"), 1, "at.lasts.more", "is not a known entry"),
    (("first",), {"who": "child"}, "at.first", "a number lacks its source"),
    (("first", "more"), 1, "at.first.more", "is not a known entry"),
    (("bands", 0, "under_kg"), 3, "at.bands.0.under_kg", "is 3, not above from_kg: it is for nobody"),
    (("bands", 0, "under_days"), 28, "at.bands.0.under_days", "is 28, not above from_days: it is for nobody"),
    (("bands", 1, "under_kg"), 0, "at.bands.1.under_kg", "is 0, not above from_kg: it is for nobody"),
    (("bands", 1, "from_kg"), 5, "at.bands.1", "a number lacks its source"),
    (("bands", 0, "who"), "dog", "at.bands.0.who", "is 'dog', not one of adult, child"),
    (("bands", 0, "weight"), "heavy", "at.bands.0.weight", "is 'heavy', not one of known, unknown"),
    (("bands", 0, "more"), 1, "at.bands.0.more", "is not a known entry"),
    (("bands", 0, "by_order", "source"), None, "at.bands.0.by_order", "a number lacks its source"),
    (("cautions", 0, "more"), 1, "at.cautions.0.more", "is not a known entry"),
    (("cautions", 0, "where", "more"), 1, "at.cautions.0.where.more", "is not a known entry"),
    (("recipe", "ways"), {}, "at.recipe.ways", "is empty"),
    (("recipe", "ways"), None, "at.recipe.ways", "is missing"),
    (("recipe", "stock", "amount"), "1 mg", "at.recipe.stock.amount", "is mg, not a strength for each mL"),
    (("recipe", "makes"), None, "at.recipe.makes", "is missing"),
    (("recipe", "more"), 1, "at.recipe.more", "is not a known entry"),
    (("recipe", "ways", "one", 0, "volume"), "9 mg", "at.recipe.ways.one.0.volume", "is mg, not a volume"),
    (("recipe", "ways", "one", 0, "vessel"), "cup", "at.recipe.ways.one.0.vessel", "is 'cup', not one of bag, syringe"),
    (("recipe", "ways", "one", 2, "action"), None, "at.recipe.ways.one.2.action", "is missing"),
    (("recipe", "ways", "one", 2, "more"), 1, "at.recipe.ways.one.2.more", "is not a known entry"),
    (("reassessment", "needs"), [], "at.reassessment.needs", "is empty"),
    (("reassessment", "due_min"), None, "at.reassessment.due_min", "is missing"),
    (("reassessment", "more"), 1, "at.reassessment.more", "is not a known entry"),
    (("flags",), ["blue"], "at.flags", "holds 'blue', not one of "),
    (("relevant",), ["blue"], "at.relevant", "holds 'blue', not one of "),
    (("never_gated_in",), ["blue"], "at.never_gated_in", "holds 'blue', not one of "),
]


@pytest.mark.parametrize(("path", "value", "entry", "words"), FAULTS, ids=lambda each: str(each)[:40])
def test_what_is_wrong_is_named_at_its_entry(path: tuple[str | int, ...], value: Any, entry: str, words: str) -> None:
    values: Any = copy.deepcopy(WHOLE)
    around = values
    for key in path[:-1]:
        around = around[key]
    if value is None:
        del around[path[-1]]
    else:
        around[path[-1]] = value

    faults = read_treatment(values)[1]

    assert any(found == entry and text.startswith(words) for found, text in faults), faults


def test_a_treatment_without_units_says_for_whom() -> None:
    faults = read_treatment({key: value for key, value in WHOLE.items() if key not in ("units", "units_child")})[1]

    assert faults == [("at.units", "no unit is said for the child")]
