"""From the standing limits to the closed loop: what may be given, given, requested, read back, not given."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import path

from consult import access, clock, problems, queries
from consult.access import Actor
from consult.actions import checks
from consult.models import Case
from consult.render.dose_course import is_volume
from consult.render.in_hand import in_hand
from consult.render.order_story import says
from consult.render.running import with_rate
from consult.screens import (
    crew_case,
    crew_choices,
    crew_dose_form,
    crew_drawn_from,
    crew_for_what,
    crew_read_back,
    crew_running,
    crew_steps,
    crew_treatments,
)
from consult.screens.crew_for_what import Chosen
from consult.screens.crew_in_hand import done, mixable
from consult.screens.crew_made_for import for_any_weight
from consult.screens.crew_orders import ended, gate, named_order, order_of, order_page, with_news
from consult.screens.crew_page import crew_only, crew_page
from consult.screens.crew_standing import standing
from consult.screens.listed import listed
from dosing.ground.language import gettext as _
from dosing.rules.rule_set import RuleSet, Treatment

OTHER = "other"  # a drug that the rule set lacks


@crew_only
def treatments(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """What the standing limits allow this patient now."""
    now = clock.now()
    case, facts = crew_case.case_facts(actor, case_id, now)
    rows = checks.guidance(actor, case_id, now)["treatments"]
    groups = crew_treatments.guidance_groups(rows, queries.rules_of(case))
    running = with_rate(facts["card"])
    return crew_page(request, actor, "treatments", **facts, here="give", groups=groups, running=running)


@crew_only
def give(request: HttpRequest, actor: Actor, case_id: UUID, treatment: str) -> HttpResponse:
    """Prepare and record one treatment; with ``?order=`` as it was ordered and read back."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    order = named_order(actor, case, request.GET.get("order"))
    if treatment == OTHER:
        named = order if order and order["treatment"] == OTHER else None
        return crew_page(
            request,
            actor,
            "other",
            **facts,
            here="give",
            order=named,
            **_by_voice(actor),
            **unlisted(queries.rules_of(case)),
        )
    rules, now = queries.rules_of(case), clock.now()
    known = _treatment(rules, treatment)
    held = [each for each in in_hand(facts["card"]) if each["treatment"] == treatment]
    places = crew_drawn_from.places(held, known, order, now)
    place = next((each for each in places if each.key == request.GET.get("from")), next(iter(places), None))
    form = _treatment_form(actor, case, treatment, _chosen(request, order), place.beside if place else ())
    form |= crew_dose_form.source(held, place, known, now)
    form |= {"held_now": held, "places": places, "place": place}
    told, given_for = queries.facts(case), rules.treatment(treatment, form["item"]["indication"])
    form["any_weight"] = for_any_weight(given_for, told.patient, order)
    form["standing"] = json.dumps(standing(facts["card"], form, known, rules, told, now))
    form["ticked"] = crew_dose_form.ticked(request.GET.get("again", ""), order, form["in_syringe"])
    if order:
        form["carried"] = crew_dose_form.as_read_back(order, form)
        form["ordered"] = crew_dose_form.as_ordered(order, form)
    else:  # perhaps once more as before
        again = crew_dose_form.carried(request.GET, form) if "amount" in request.GET else form["carried"]
        strength = crew_dose_form.strength_in_hand(facts["card"], form)
        form["carried"] = {"strength": strength, "route": crew_dose_form.only_route(form["routes"]), **again}
    form["amounts"] = crew_dose_form.with_amount(form["amounts"], (order or form["carried"]).get("amount"))
    return crew_page(request, actor, "give", **facts, here="give", order=order, **_by_voice(actor), **form)


@crew_only
def change(request: HttpRequest, actor: Actor, case_id: UUID, dose_id: UUID) -> HttpResponse:
    """The end of something that runs, or its new rate."""
    now = clock.now()
    case, facts = crew_case.case_facts(actor, case_id, now)
    dose = next((each for each in with_rate(facts["card"]) if each["id"] == str(dose_id)), None)
    if dose is None:
        ended = crew_running.run_out(facts["card"], dose_id)
        return crew_page(request, actor, "ended", **facts, here="case", **ended)
    treatment = queries.rules_of(case).treatments.get(dose["treatment"])
    infusion = bool(treatment and treatment.form == "infusion")
    units = crew_dose_form.dose_units(treatment) if treatment else ()
    order = named_order(actor, case, request.GET.get("order"))
    by_orders = queries.orders_read_back(case, dose["treatment"])
    form = {
        "runs": crew_dose_form.runs(dose) if infusion else "",
        "infusion": infusion,
        "bags": crew_running.bags(facts["card"], dose) if infusion else [],
        "bolus": not infusion and is_volume(dose),
        "pressor": infusion and treatment is not None and treatment.drug_class == "pressor",
        "why_reasons": crew_choices.stop_reasons(treatment.drug_class if treatment else ""),
        "line_reasons": crew_choices.LINE_REASONS,
        "ordered": crew_running.rate_ordered(by_orders, dose) if infusion else "",
        "units": units,
        "ends_order": "" if order else crew_running.ends_with(facts["card"], dose),
        "held_by": None if order else crew_running.held_by(by_orders, dose),
        "may_hold": bool(dose["rates"]) or not dose.get("amount"),
        "bag_changed": bool(treatment and mixable(treatment) and crew_running.is_bag_changed(dose)),
        "left": crew_running.time_left(dose, request.GET.get("infused", ""), now),
        "read": crew_running.as_read_back(order)
        if order
        else crew_running.set_again(request.GET.get("rate", ""), units),
    }
    return crew_page(request, actor, "change", **facts, here="case", dose=dose, order=order, **form)


@crew_only
def request_change(request: HttpRequest, actor: Actor, case_id: UUID, dose_id: UUID) -> HttpResponse:
    """Ask for a new rate of what runs, perhaps with steps, for a pause or for its end."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    dose = next((each for each in with_rate(facts["card"]) if each["id"] == str(dose_id)), None)
    if dose is None:
        return crew_page(request, actor, "ended", **facts, here="case", **crew_running.run_out(facts["card"], dose_id))
    treatment = queries.rules_of(case).treatments.get(dose["treatment"])
    units = crew_dose_form.dose_units(treatment) if treatment else crew_choices.RATE_UNITS
    form = {"rate_units": units, "request_reasons": crew_choices.CHANGE_REASONS}
    return crew_page(request, actor, "request_change", **facts, here="orders", dose=dose, **form)


@crew_only
def orders(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """The orders that are not finished, and under them those that have ended."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    return crew_page(request, actor, "orders", **facts, here="orders", ended=ended(case))


@crew_only
def request_order(request: HttpRequest, actor: Actor, case_id: UUID) -> HttpResponse:
    """Ask for an order: first for which treatment, then how much and why; what was chosen to give comes along."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    treatment = request.GET.get("treatment")
    if not treatment:
        groups = crew_treatments.all_titles(queries.rules_of(case))
        return crew_page(request, actor, "request", **facts, here="orders", groups=groups)
    if treatment == OTHER:
        form = {"request_reasons": crew_choices.OTHER_REASONS, **unlisted(queries.rules_of(case))}
        return crew_page(request, actor, "request_other", **facts, here="orders", **form)
    form = _treatment_form(actor, case, treatment, _chosen(request))
    form["carried"] = crew_dose_form.carried(request.GET, form)
    form["carried"]["route"] = form["carried"]["route"] or crew_dose_form.route_in_use(facts["card"], form["routes"])
    form["carried"]["strength"] = form["carried"]["strength"] or crew_dose_form.strength_in_hand(facts["card"], form)
    form["amounts"] = crew_dose_form.with_amount(form["amounts"], form["carried"]["amount"])
    reasons = crew_choices.REQUEST_REASONS
    return crew_page(request, actor, "request", **facts, here="orders", request_reasons=reasons, **form)


@crew_only
def order_status(request: HttpRequest, actor: Actor, case_id: UUID, order_id: UUID) -> HttpResponse:
    """Where an order stands and what is next."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    order = with_news(actor, case, order_page(order_of(actor, case, order_id)))
    running = crew_running.about(order, facts["card"].get("running") or ())
    told = [] if case.ended_at else crew_steps.next_steps(actor, case, facts["card"], clock.now())
    stepped = [each for each in told if each["order"] == order["id"]]
    order |= {"running": running, "withdraw_reasons": crew_choices.WITHDRAW_REASONS}
    return crew_page(request, actor, "order", **facts, here="orders", order=order, steps=stepped, page_of_step=True)


@crew_only
def read_back(request: HttpRequest, actor: Actor, case_id: UUID, order_id: UUID) -> HttpResponse:
    """Read an order back: of what is compared the page holds nothing, so that there is nothing to copy."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    known, rules = order_of(actor, case, order_id), queries.rules_of(case)
    order = {"gate": gate(known, "approved"), "says": says(known)}
    frame = {name: facts[name] for name in ("case_id", "call_sign", "person", "who", "to_do", "case_ended")}
    return crew_page(
        request,
        actor,
        "readback",
        **frame,
        order_id=order_id,
        order=order,
        beside=order_id,
        here="orders",
        seq=facts["card"]["seq"],
        labels=crew_read_back.labels(facts["card"], rules),
        groups=crew_read_back.drugs(rules),
        routes=crew_choices.ROUTES,
        strength_units=crew_choices.STRENGTH_UNITS,
        amount_units=crew_choices.AMOUNT_UNITS,
        rate_units=crew_choices.RATE_UNITS,
    )


@crew_only
def answer(request: HttpRequest, actor: Actor, case_id: UUID, order_id: UUID) -> HttpResponse:
    """Answer what a physician asked about a request."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    order = order_page(order_of(actor, case, order_id), needs="requested")
    asked = order["talk"][-1] if order["question"] else None
    order["talk"] = order["talk"][:-1] if asked else order["talk"]
    return crew_page(request, actor, "answer", **facts, here="orders", order=order, asked=asked)


@crew_only
def not_given(request: HttpRequest, actor: Actor, case_id: UUID, order_id: UUID) -> HttpResponse:
    """Record that an order was not carried out."""
    case, facts = crew_case.case_facts(actor, case_id, clock.now())
    order = order_page(order_of(actor, case, order_id))
    reasons = crew_choices.NOT_GIVEN_REASONS
    return crew_page(request, actor, "not_given", **facts, here="orders", order=order, not_given_reasons=reasons)


def _treatment(rules: RuleSet, slug: str) -> Treatment:
    treatment = rules.treatments.get(slug)
    if treatment is None:
        raise problems.NotFound(_("The rule set has no such treatment."))
    return treatment


def _chosen(request: HttpRequest, order: dict[str, Any] | None = None) -> Chosen:
    """For what and by which route: as it was ordered, else as the address says."""
    ordered, said = order or {}, request.GET
    return Chosen(
        ordered.get("indication") or said.get("for") or said.get("indication") or "",
        ordered.get("route") or said.get("by") or said.get("route") or "",
    )


def _treatment_form(
    actor: Actor, case: Case, slug: str, chosen: Chosen, beside: Collection[str] = ()
) -> dict[str, Any]:
    """A treatment of the case's rule set with its limits for this patient now, not drawn from what lies `beside`."""
    rules = queries.rules_of(case)
    _treatment(rules, slug)
    rows = checks.guidance(actor, case.uid, clock.now(), beside)["treatments"]
    row = crew_for_what.row_of(next(each for each in rows if each["treatment"] == slug), chosen)
    treatment = rules.treatment(slug, row["indication"])
    return {
        "item": crew_treatments.guidance_item(row, rules),
        **crew_for_what.choices(treatment, row),
        "chosen_for": bool(row["indication"]) and chosen.indication == row["indication"],
        "carried": crew_for_what.picked(row, chosen),
        "amounts": crew_dose_form.dose_choices(row),
        "over": crew_dose_form.over_choices(row),
        "mixable": mixable(treatment),
        "done": done(treatment),
        **crew_dose_form.form_facts(treatment, rules, row),
    }


def _by_voice(actor: Actor) -> dict[str, Any]:
    """Who may have ordered a dose by voice."""
    return {"physicians": access.physicians_of(actor)}


def unlisted(rules: RuleSet) -> dict[str, Any]:
    """What the form of a drug outside the rules offers, and the drugs that are none: those of the rules."""
    return {"routes": crew_choices.ROUTES, "amount_units": crew_choices.AMOUNT_UNITS, "listed": listed(rules)}


urlpatterns = [
    path("crew/<uuid:case_id>/give/", treatments, name="crew-treatments"),
    path("crew/<uuid:case_id>/give/<slug:treatment>/", give, name="crew-give"),
    path("crew/<uuid:case_id>/change/<uuid:dose_id>/", change, name="crew-change"),
    path("crew/<uuid:case_id>/change/<uuid:dose_id>/request/", request_change, name="crew-request-change"),
    path("crew/<uuid:case_id>/orders/", orders, name="crew-orders"),
    path("crew/<uuid:case_id>/orders/request/", request_order, name="crew-request"),
    path("crew/<uuid:case_id>/orders/<uuid:order_id>/", order_status, name="crew-order"),
    path("crew/<uuid:case_id>/orders/<uuid:order_id>/readback/", read_back, name="crew-readback"),
    path("crew/<uuid:case_id>/orders/<uuid:order_id>/answer/", answer, name="crew-answer"),
    path("crew/<uuid:case_id>/orders/<uuid:order_id>/not-given/", not_given, name="crew-not-given"),
]
