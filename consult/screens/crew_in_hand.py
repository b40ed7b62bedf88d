"""What is in hand: mixed and recorded, an oxygen cylinder opened, discarded again."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path, reverse
from django.utils.text import capfirst

from consult import access, clock, problems, queries
from consult.access import Actor
from consult.clock import stamp
from consult.models import Case, Container
from consult.render.in_hand import in_hand
from consult.screens import crew_case, crew_choices
from consult.screens.crew_page import crew_only, crew_page
from dosing.ground import units
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, drug_text, number_text
from dosing.held.ledger import is_fluid
from dosing.held.oxygen import PRESSURES, SIZES, reserve
from dosing.mix import dilution
from dosing.rules.plain import source_told
from dosing.rules.rule_set import Treatment


@crew_only
def mixed(request: HttpRequest, actor: Actor, case_id: UUID, treatment: str) -> HttpResponse:
    """Record what was mixed: strength, volume and name stand as the recipe and the sign-in have them."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    rules = queries.rules_of(case)
    known = rules.treatments.get(treatment)
    if known is None or not mixable(known):
        raise problems.NotFound(_("The rule set lists no strength in which this is stocked."))
    back = reverse("crew-give", args=[case_id, treatment])
    form = {"slug": treatment, "title": drug_text(known.title, rules.tall_man), "done": done(known), **made(known)}
    form |= {"hours": number_text(rules.ledger.discard_after_h)}
    form |= {"source": source_told(rules.ledger.sources["discard_after_h"])}
    return crew_page(request, actor, "mixed", **facts, here="give", give=back, mixed_by=actor.name, **form)


def mixable(treatment: Treatment) -> bool:
    """Whether the treatment is held ready in a strength: a fluid is hung as it is."""
    return not is_fluid(treatment) and bool(strengths(treatment))


def done(treatment: Treatment | None) -> str:
    """What is done to have it in hand: what is pushed and has no recipe is drawn up as it comes, all else is mixed."""
    as_it_comes = treatment is not None and treatment.form in ("push", "im") and treatment.recipe is None
    return _("Drawn up") if as_it_comes else _("Mixed")


def strengths(treatment: Treatment) -> list[dict[str, Any]]:
    """The strengths in which it is mixed or drawn up, the recipe's alone where there is one."""
    stated = [treatment.recipe.makes] if treatment.recipe else treatment.concentrations or treatment.stocks
    amounts = [each.amount for each in stated]
    return [{"value": f"{each.value:g}", "unit": each.unit, "text": amount_text(each)} for each in amounts]


def made(treatment: Treatment) -> dict[str, Any]:
    """What the recipe makes: volume and vessel of the last thing that it labels, None without a recipe."""
    recipe = treatment.recipe
    known, held = strengths(treatment), dilution.labeled(recipe)[-1] if recipe else None
    return {
        "strengths": known,
        "per_ml": known[0]["unit"].replace("/", " per ") if known else "",
        "volume": units.amount(held.volume, "mL").value if held else None,
        "vessel": held.vessel if held else "",
    }


@crew_only
def cylinder(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """Record an oxygen cylinder that was opened, or its gauge read again: the newest one is breathed from."""
    _, facts = crew_case.case_facts(actor, case_id, clock.now())
    pressure, source = reserve()
    form = {"sizes": SIZES, "pressures": PRESSURES, "reserve": pressure, "source": source_told(source)}
    return crew_page(request, actor, "cylinder", **facts, here="case", **form)


@crew_only
def discard(request: HttpRequest, actor: Actor, case_id: UUID, container_id: UUID) -> HttpResponse:
    """One thing in hand, with all that is known of it, and that it is in hand no more."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    held = next((each for each in in_hand(facts["card"]) if each["id"] == str(container_id)), None)
    if held is None:
        gone = _in_hand_no_more(case, access.container_for(actor, container_id))
        return crew_page(request, actor, "ended", **facts, here="case", **gone)
    made_how = done(queries.rules_of(case).treatments.get(held["treatment"]))
    reasons = crew_choices.DISCARD_REASONS
    return crew_page(request, actor, "discard", **facts, here="case", held=held, done=made_how, discard_reasons=reasons)


def _in_hand_no_more(case: Case, row: Container) -> dict[str, Any]:
    """What became of it, as the page tells it; raises ``NotFound`` for another case's."""
    if row.case_id != case.pk:
        raise problems.NotFound(_("This is not in hand in this case."))
    rules = queries.rules_of(case)
    known = rules.treatments.get(row.treatment)
    became = _("Entered in error") if row.in_error else _("Discarded") if row.discarded_at else _("No longer in hand")
    return {
        "what": f"{drug_text(known.title, rules.tall_man)}, {row.form}" if known else capfirst(row.form),
        "became": became,
        "at": stamp(row.discarded_at) if row.discarded_at and not row.in_error else "",
        "because": row.discarded_because,
    }


urlpatterns = [
    path("crew/<uuid:case_id>/mixed/<slug:treatment>/", mixed, name="crew-mixed"),
    path("crew/<uuid:case_id>/cylinder/", cylinder, name="crew-cylinder"),
    path("crew/<uuid:case_id>/in-hand/<uuid:container_id>/", discard, name="crew-discard"),
]
