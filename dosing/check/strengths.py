"""Findings about the strength in the hand: which it is, and what the patient would get if it were taken for another."""

from __future__ import annotations

from dosing.check.bands import fits
from dosing.check.dosage import Proposed
from dosing.check.findings import Finding
from dosing.ground import text, units
from dosing.ground.facts import Amount, Container
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity, WrongUnit
from dosing.mix import dilution, stock
from dosing.mix.stock import InHand
from dosing.rules.rule_set import Strength


def in_hand(asked: Proposed) -> tuple[Quantity | None, list[Finding]]:
    """The strength of what goes into the patient: as stated, else of what is in hand, of the recipe, or stocked."""
    treatment, stated = asked.question.stocked, asked.proposal.stock
    if stated is not None:
        if of_other := _of_another_route(asked, stated):
            return None, of_other
        hand = stock.recognize(treatment, units.quantity(stated))
        return hand.strength, _findings(asked, stated, hand)
    if (held := _held(asked)) is not None and held.strength is not None:
        return _of_held(asked, held.form, held.strength)
    if treatment.recipe is not None:
        return treatment.recipe.makes.exact, []
    if len(asked.question.for_patient) == 1:
        return asked.question.for_patient[0].exact, []
    return None, not_stated(asked, asked.question.for_patient)


def _held(asked: Proposed) -> Container | None:
    """The syringe that the dose names, else the newest of its treatment in hand at the time."""
    slug, known = asked.question.treatment.slug, asked.question.bedside.facts.containers
    of_it = (each for each in known if each.treatment == slug and each.strength)
    return next((each for each in of_it if each.id == asked.proposal.container), asked.question.held)


def _of_held(asked: Proposed, form: str, strength: Amount) -> tuple[Quantity | None, list[Finding]]:
    """A recorded strength: one that is ready to give, or what it is, with what comes of it if it is taken for that."""
    treatment, exact = asked.question.stocked, units.quantity(strength)
    ready = (treatment.recipe.makes,) if treatment.recipe else treatment.stocks
    same = next((each for each in ready if stock.alike(exact, each.exact)), None)
    if same is not None:
        return same.exact, _avoided(asked, same.amount)
    hand = stock.recognize(treatment, exact)
    usual = text.amount_text(units.amount(hand.usual, _unit_of(asked, hand.usual)))
    words = _(
        "the {form} in hand holds {strength}, not {usual}; {would}",
        form=form,
        strength=text.amount_text(strength),
        usual=usual,
        would=_would(asked, exact, hand.usual),
    )
    return None if hand.kind == "stronger" else exact, [asked.question.find("unlisted_strength", words)]


def of_bag(asked: Proposed, concentration: Amount) -> list[Finding]:
    """What there is to say about the concentration of an infusion; any strength may be hung."""
    hand = stock.recognize(asked.question.treatment, units.quantity(concentration))
    return [*_findings(asked, concentration, hand), *_another_bag(asked)]


def _another_bag(asked: Proposed) -> list[Finding]:
    """A new rate of another strength than the bag that runs, and what it would be of that bag."""
    question, stated = asked.question, asked.proposal.concentration
    hung = {each.concentration for each in question.of_it_running if each.concentration is not None}
    if stated is None or not question.new_rate or len(hung) != 1:
        return []
    (runs,) = hung
    exact, now = units.quantity(runs), units.quantity(stated)
    if exact.units != now.units or stock.alike(exact, now):
        return []
    words = _(
        "the bag that runs is {runs}, not {stated}: {would}; hang a new bag first",
        runs=text.amount_text(runs),
        stated=text.amount_text(stated),
        would=_would(asked, exact, now),
    )
    return [question.find("unlisted_strength", words)]


def of_volume(asked: Proposed) -> list[Finding]:
    """What is given by volume: a bag that is stronger than those listed is another one, a weaker one is told."""
    stated, listed = asked.proposal.stock, asked.question.treatment.stocks
    if stated is None or not listed:
        return []
    exact, strongest = units.quantity(stated), max(listed, key=lambda one: one.exact)
    if exact.units != strongest.exact.units:
        words = _("{unit} is not a strength of {treatment}", unit=stated.unit, treatment=asked.question.treatment.title)
        raise WrongUnit(words, code="wrong_kind", field="stock")
    if any(stock.alike(exact, one.exact) for one in listed):
        return []
    code = "wrong_stock" if exact > strongest.exact else "unlisted_strength"
    words = _("{stated} is not for this, {listed} is", stated=text.amount_text(stated), listed=list_text(listed))
    return [asked.question.find(code, words, strongest.source, strongest.amount)]


def not_stated(asked: Proposed, listed: tuple[Strength, ...]) -> list[Finding]:
    """Several strengths and none named: what comes of the strongest where the weakest was meant; a tablet has none."""
    if not listed:
        return []
    words = _("strength not stated; {listed} are listed", listed=list_text(listed))
    weakest, strongest = (pick(listed, key=lambda one: one.exact) for pick in (min, max))
    swapped = _(
        "{stated} mistaken for {listed}",
        stated=text.amount_text(strongest.amount),
        listed=text.amount_text(weakest.amount),
    )
    would = _would(asked, strongest.exact, weakest.exact)
    return [asked.question.find("strength_not_stated", f"{words}: {swapped}, {would}")]


def _findings(asked: Proposed, stated: Amount, hand: InHand) -> list[Finding]:
    question, said = asked.question, text.amount_text(stated)
    would = _would(asked, hand.results, hand.usual)
    if hand.kind == "stronger":
        return [_too_strong(asked, stated, would)]
    if hand.kind == "undrained":
        vessel = _("bag: draw out first") if question.treatment.form == "infusion" else _("syringe: expel first")
        words = _(
            "{strength} is what the drug added to a full {vessel} to reach the strength on the label; {would}",
            strength=said,
            vessel=vessel,
            would=would,
        )
        return [question.find("unlisted_strength", words)]
    if hand.kind == "unlisted":
        listed = stock.strengths(question.treatment)
        usual = text.amount_text(units.amount(hand.usual, _unit_of(asked, hand.usual)))
        words = _(
            "{strength}{elsewhere} is not one of {ready}; mistaken for {usual}, {would}",
            strength=said,
            elsewhere=_elsewhere(asked, stated),
            ready=list_text(_ready(asked)),
            usual=usual,
            would=would,
        )
        return [question.find("unlisted_strength", words, limit=listed[0].amount)]
    return _avoided(asked, stated)


def _avoided(asked: Proposed, stated: Amount) -> list[Finding]:
    """A strength that is listed, but not for this patient."""
    question, exact = asked.question, units.quantity(stated)
    of_it = [each for each in (*question.treatment.stocks, *question.treatment.concentrations) if each.exact == exact]
    against = [
        *(("wrong_stock", each.barred, "") for each in of_it),
        *(("unlisted_strength", each.by_order, "needs_order") for each in of_it),
        *(("unlisted_strength", each.avoid, "") for each in of_it),
    ]
    return [
        question.find(code, f"{text.amount_text(stated)}: {each.text} ({question.whom})", each.source, level=level)
        for code, each, level in against
        if each is not None and fits(each.where, question.limits.person)
    ][:1]


def _of_another_route(asked: Proposed, stated: Amount) -> list[Finding]:
    """A strength that is listed, but not for this route, as a nasal spray for a vein."""
    question, exact = asked.question, units.quantity(stated)
    stocked, ready = question.treatment.stocks, question.stocked.stocks
    other = next((one for one in stocked if one.exact == exact and one not in ready), None)
    if other is None or not ready:
        return []
    by = _(" or ").join(text.route_text(route) for route in sorted(other.routes))
    usual = min(ready, key=lambda one: max(stock.times(exact, one.exact), stock.times(one.exact, exact)))
    said = ", ".join(filter(None, (text.amount_text(stated), other.name)))
    words = _("{strength}: {by} only; {would}", strength=said, by=by, would=_would(asked, exact, usual.exact))
    return [question.find("wrong_stock", words, other.source)]


def _too_strong(asked: Proposed, stated: Amount, would: str) -> Finding:
    treatment, said = asked.question.stocked, text.amount_text(stated) + _elsewhere(asked, stated)
    recipe = treatment.recipe
    if recipe is None:
        ready = _ready(asked)
        words = _("{strength} is not for this, {ready} is; {would}", strength=said, ready=list_text(ready), would=would)
        return asked.question.find("wrong_stock", words, ready[0].source)
    made = dilution.strength_text(stock.made_from(recipe, units.quantity(stated)))
    right = text.amount_text(recipe.stock.amount)
    not_this = _(
        "the recipe makes {made} of it, not {amount}, and {would}",
        made=made,
        amount=text.amount_text(recipe.makes.amount),
        would=would,
    )
    words = _("{strength} is the wrong vial: {not_this}; take {right}", strength=said, not_this=not_this, right=right)
    return asked.question.find("wrong_stock", words, recipe.source, recipe.stock.amount)


def _elsewhere(asked: Proposed, stated: Amount) -> str:
    found = stock.elsewhere(asked.question.treatment, asked.question.bedside.rules, units.quantity(stated))
    return f" ({', '.join(found)})" if found else ""


def _would(asked: Proposed, results: Quantity, usual: Quantity) -> str:
    """``1 mL would be 100 mcg, not 10 mcg``: the volume, or pump rate, as it is for the usual strength."""
    stated = asked.proposal.amount
    if units.kind(stated.unit) == "volume/min":  # a pump rate gives what is in it, not what was meant
        pumped = units.quantity(stated)
        wrong, right = text.apart_text(asked.shown(pumped * results), asked.shown(pumped * usual))
        return _("{stated} would be {wrong}, not {right}", stated=text.amount_text(stated), wrong=wrong, right=right)
    got = asked.dose * stock.times(results, usual)
    wrong, right = text.apart_text(asked.shown(got), asked.shown(asked.dose))
    if units.is_per_kg(asked.dose):
        return _("the patient would get {wrong}, not {right}", wrong=wrong, right=right)
    unit = "mL/h" if asked.question.treatment.form == "infusion" else "mL"
    return _(
        "{dose} would be {wrong}, not {right}",
        dose=text.amount_text(units.amount(asked.dose / usual, unit)),
        wrong=wrong,
        right=right,
    )


def if_swapped(asked: Proposed, volume: Quantity, strength: Quantity) -> tuple[str, ...]:
    """What the same volume would be of each other strength that this treatment comes in, the undiluted vial too."""
    listed = stock.strengths(asked.question.treatment)
    if all(one.exact != strength for one in listed):
        return ()
    shown = text.amount_text(units.amount(volume, "mL"))
    return tuple(
        _(
            "{shown} of {amount} would be {volume}",
            shown=shown,
            amount=text.amount_text(other.amount),
            volume=text.amount_text(asked.shown(volume * other.exact)),
        )
        for other in listed
        if other.exact != strength
    )


def _ready(asked: Proposed) -> tuple[Strength, ...]:
    treatment = asked.question.stocked
    if treatment.recipe is not None:
        return treatment.recipe.stock, treatment.recipe.makes
    return treatment.concentrations if treatment.form == "infusion" else treatment.stocks


def shown_unit(asked: Proposed) -> str:
    """The unit in which a strength is read off the vial or the label."""
    treatment, stated = asked.question.treatment, asked.proposal.stock
    if treatment.recipe is not None:
        return treatment.recipe.makes.amount.unit
    return stated.unit if stated is not None else treatment.stocks[0].amount.unit


def _unit_of(asked: Proposed, exact: Quantity) -> str:
    """The unit in which the rules state a strength that they list."""
    listed = {one.exact: one.amount.unit for one in stock.strengths(asked.question.treatment)}
    return listed[exact]


def list_text(listed: tuple[Strength, ...]) -> str:
    """Strengths in a row: ``10 mg per mL, 50 mg per mL``."""
    return ", ".join(text.amount_text(one.amount) for one in listed)
