"""The working page of a cardiac arrest: what the server knows of it, and what each press enters."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from consult import queries
from consult.models import Case
from consult.screens import crew_choices
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.patient import is_adult_for_dosing
from dosing.ground.text import amount_text
from dosing.tell import arrest
from dosing.tell.arrest import ArrestDose

Card = Mapping[str, Any]
CONSIDERED = _("Reversible cause considered: ")


def working_page(case: Case, card: Card, now: datetime) -> dict[str, Any]:
    """What the page offers and counts from, whether the patient is in arrest or may yet be: it works without a link.

    ``arrest_told`` is what the page reckons with, as of the card's ``seq``: what the phone enters comes on top.
    """
    facts, rules = queries.facts(case), queries.rules_of(case)
    offered = [_offered(dose) for dose in arrest.doses(facts, rules, now)]
    known, cycle = card.get("arrest") or {}, rules.watch.arrest_cycle_min
    return {
        "arrest_offered": offered,
        "by_weight": not is_adult_for_dosing(facts.patient),
        "energies": arrest.energies(facts.patient, rules),
        "rhythms": [{"short": short, "name": name, "shocked": shocked} for short, name, shocked in arrest.RHYTHMS],
        "airways": arrest.AIRWAYS,
        "causes": [{"name": name, "text": f"{CONSIDERED}{name.lower()}"} for name in arrest.CAUSES],
        "cycle_min": cycle,
        "about_arrest": crew_choices.ABOUT_ARREST.get(card["patient"].get("care_limits") or "", ""),
        "arrest_told": {
            "seq": card["seq"],
            "phase": card["phase"],
            "since": card["phase_since"],
            "shocks": known.get("shocks", 0),
            "last_shock": known.get("last_shock"),
            "compressions_at": known.get("compressions_at"),
            "paused_at": known["spans"][-1]["compressions"]["since"] if known else None,
            "cycle_min": cycle,
            "set_min": rules.watch.pulse_back_set_min,
            "rhythm": (card["vitals"].get("rhythm") or {}) if known else {},
            "doses": {each["treatment"]: each for each in known.get("doses") or ()},
            "considered": queries.notes_that_begin(case, CONSIDERED) if known else [],
        },
    }


def _offered(dose: ArrestDose) -> dict[str, Any]:
    return {
        "treatment": dose.treatment,
        "title": dose.title.removesuffix(" in cardiac arrest"),
        "amount": f"{dose.amount.value:g} {dose.amount.unit}" if dose.amount else "",
        "amount_text": amount_text(Amount(dose.amount.value, dose.amount.unit)) if dose.amount else "",
        "volumes": dose.volumes,
        "routes": dose.routes,
        "every_min": dose.every_min,
    }
