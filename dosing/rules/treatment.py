"""A treatment of a rule set, and what it is given for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated

from dosing.ground import units
from dosing.ground.language import gettext as _
from dosing.rules import words
from dosing.rules.parts import (
    Apart,
    Band,
    Caution,
    Fastest,
    Figure,
    First,
    Fluid,
    Impressions,
    Lasts,
    Phases,
    ReassessmentRule,
    Recipe,
    Routes,
    Shared,
    Source,
    Stocked,
    Units,
    Wants,
    Where,
    Window,
)
from dosing.rules.shape import DrugText, Key, Made, Named, OfDose, OneOf, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Indication:
    """What a treatment is given for: what is said here holds instead of what the treatment says; cautions are added."""

    slug: Made[str]
    title: Annotated[str, "what is said after `for`, such as `a seizure`"]
    source: Source
    routes: Routes = frozenset()
    phases: Annotated[Phases, "the only phases in which it is given for this; left out: all"] = frozenset()
    shortest: Annotated[Figure | None, Unit("min"), "how fast it may be given"] = None
    within: Annotated[Figure | None, Unit("min"), "how fast it should be in"] = None
    reassessment: ReassessmentRule | None = None
    starts_by_order: Annotated[Source | None, "it always starts by order: who says so"] = None
    cosign: Annotated[Source | None, "a second physician co-signs each order of it: who says so"] = None
    wants: Annotated[tuple[Wants, ...], "what should be there first"] = ()
    flags: Annotated[frozenset[str], OneOf(words.FLAGS), "what is looked at before each dose"] = frozenset()
    never_gated_in: Annotated[Impressions, "where no pressure holds it back"] = frozenset()
    relevant: Annotated[Impressions, "for which it is offered before others"] = frozenset()
    first: First | None = None
    cautions: tuple[Caution, ...] = ()


_OWN = (
    *("routes", "phases", "shortest", "within", "reassessment", "starts_by_order", "cosign"),
    *("wants", "flags", "never_gated_in", "relevant", "first"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """One treatment: what it is, who may give how much of it, how it is prepared and what follows."""

    slug: Made[str]
    indication: Made[str] = ""
    title: DrugText
    drug: Annotated[str, "by which doses of one drug are known"]
    drug_class: Annotated[str, Key("class"), OneOf(words.CLASSES), "intervals count over it; `other` is none"]
    form: Annotated[str, OneOf(words.FORMS)]
    routes: Routes
    indications: Annotated[Mapping[str, Indication], Named(words.SLUG, words.SLUG_TOLD), "the usual one first"] = field(
        default_factory=dict
    )
    phases: Annotated[Phases, "the only phases in which it is given; left out: all"] = frozenset()
    unit: Annotated[str, OfDose, "in which its amounts are shown"]
    units: Annotated[Units, "in which it is stated; one for adult and child at least"] = frozenset()
    units_adult: Annotated[Units, "those for adults besides"] = frozenset()
    units_child: Annotated[Units, "those for children besides"] = frozenset()
    bag: Annotated[Figure | None, Unit("mL"), "what a bag holds"] = None
    bands: Annotated[tuple[Band, ...], "its limits, the general first"] = ()
    source: Source
    interval: Annotated[Figure | None, Unit("min"), "from one dose to the next"] = None
    shortest: Annotated[Figure | None, Unit("min"), "how fast it may be given"] = None
    within: Annotated[Figure | None, Unit("min"), "how fast it should be in"] = None
    fastest: Fastest | None = None
    lasts: Lasts | None = None
    stocks: Annotated[tuple[Stocked, ...], "strengths in which it is stocked"] = ()
    concentrations: Annotated[tuple[Stocked, ...], "strengths in which it runs"] = ()
    strongest: Annotated[bool, "what is stronger than all that are listed is another product"] = False
    recipe: Annotated[Recipe | None, "of the push dose"] = None
    mixes: Annotated[tuple[Recipe, ...], "of an infusion's bags"] = ()
    reassessment: ReassessmentRule | None = None
    starts_by_order: Annotated[Source | None, "it always starts by order: who says so"] = None
    cosign: Annotated[Source | None, "a second physician co-signs each order of it: who says so"] = None
    told_under: Annotated[
        Figure | None, Unit("%"), "of the standing limit: less is flagged where no least is stated"
    ] = None
    elemental: Annotated[Figure | None, Unit("mg/mL"), "the element in its salt"] = None
    count_by_volume: Annotated[bool, "a dose counts by its volume per kg"] = False
    shared: Shared | None = None
    window: Window | None = None
    fluids: Annotated[tuple[Fluid, ...], "what may be hung: another product needs an order"] = ()
    apart: Annotated[tuple[Apart, ...], "what must not have been given shortly before"] = ()
    wants: Annotated[tuple[Wants, ...], "what should be there first"] = ()
    flags: Annotated[frozenset[str], OneOf(words.FLAGS), "what is looked at before each dose"] = frozenset()
    never_gated_in: Annotated[Impressions, "where no pressure holds it back"] = frozenset()
    allergens: Annotated[frozenset[str], "what else in it a patient may be allergic to"] = frozenset()
    relevant: Annotated[Impressions, "for which it is offered before others"] = frozenset()
    first: First | None = None
    cautions: tuple[Caution, ...] = ()

    def kinds(self, who: str) -> frozenset[str]:
        """The kinds of unit in which it is stated for an ``adult`` or a ``child``."""
        return frozenset(map(units.kind, self.units | (self.units_adult if who == "adult" else self.units_child)))

    @property
    def recipes(self) -> tuple[Recipe, ...]:
        """Every recipe: that of the push dose, and the mixes of an infusion's bags."""
        return self.mixes if self.recipe is None else (self.recipe, *self.mixes)


def given_for(treatment: Treatment) -> Iterator[Treatment]:
    """The treatment as it is given for each of its indications, the usual one first; itself where it has none."""
    if not treatment.indications:
        yield treatment
    for indication in treatment.indications.values():
        own = {name: stated for name in _OWN if (stated := getattr(indication, name))}
        yield replace(
            treatment,
            indication=indication.slug,
            bands=tuple(band for band in treatment.bands if _for(indication, band.where)),
            cautions=(*(each for each in treatment.cautions if _for(indication, each.where)), *indication.cautions),
            **own,
        )


def for_what(treatment: Treatment) -> str:
    """What it is given for here, in words; empty where it has no other indication to be told from."""
    return treatment.indications[treatment.indication].title if len(treatment.indications) > 1 else ""


def titled(treatment: Treatment) -> str:
    """Its title, and for what where it has other indications: ``midazolam for a seizure``."""
    what = for_what(treatment)
    return _("{treatment} for {for_what}", treatment=treatment.title, for_what=what) if what else treatment.title


def routes_alike(treatment: Treatment) -> tuple[tuple[str, ...], ...]:
    """The routes in groups that share their limits, that of the usual route first."""
    groups: dict[tuple[bool, ...], tuple[str, ...]] = {}
    apart = [band.where.routes for band in treatment.bands if band.where.routes]
    for route in (route for route in words.ROUTES if route in treatment.routes):
        key = tuple(route in routes for routes in apart)
        groups[key] = (*groups.get(key, ()), route)
    return tuple(groups.values())


def _for(indication: Indication, where: Where | None) -> bool:
    return where is None or not where.indications or indication.slug in where.indications
