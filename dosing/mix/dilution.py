"""Preparing a syringe or a bag: what it holds after each step of a recipe."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.rules.rule_set import Recipe, RuleSet, Step, Treatment

CHANGES = ("add", "expel", "draw")  # steps after which something else is held
VOLUME_DIGITS = 4
ONE_ML, ONE_MCG = units.quantity(Amount(1, "mL")), units.quantity(Amount(1, "mcg"))


@dataclass(frozen=True, slots=True)
class VesselContents:
    """What a syringe or bag holds: a volume, the drug in it (None: none yet) and so its strength."""

    volume: Quantity
    drug: Quantity | None = None
    vessel: str = "syringe"

    @property
    def strength(self) -> Quantity | None:
        """Drug per mL, None while there is no drug."""
        return None if self.drug is None else self.drug / self.volume

    def text(self) -> str:
        """``holds 10 mL, 100 mcg: 10 mcg per mL``; the drug of a bag in mg, as its vial says it."""
        volume = volume_text(self.volume)
        if self.drug is None or self.strength is None:
            return _("holds {volume}, no drug", volume=volume)
        return _(
            "holds {volume}, {drug}: {strength}",
            volume=volume,
            drug=drug_text(self.drug, self.vessel),
            strength=strength_text(self.strength),
        )


def contents(steps: Iterable[Step]) -> list[VesselContents]:
    """What is held after each step; raises ValueError where more is taken out than is there."""
    held: list[VesselContents] = []
    now: VesselContents | None = None
    for step in steps:
        now = _after(now, step)
        if now is None:
            raise ValueError("the first step must fill the syringe or the bag")
        held.append(now)
    if not held:
        raise ValueError("a recipe needs steps")
    return held


def _after(now: VesselContents | None, step: Step) -> VesselContents | None:
    if step.action == "add":
        return _added(now, step)
    if step.action == "expel":
        return _taken(now, step, stays=True)
    if step.action == "draw":
        return _taken(now, step, stays=False)
    return now


def _added(now: VesselContents | None, step: Step) -> VesselContents:
    if step.volume is None:
        raise ValueError(f"no volume is said: {step.text}")
    volume = units.quantity(step.volume)
    drug = None if step.strength is None else units.quantity(step.strength) * volume
    if now is None:
        return VesselContents(volume, drug, step.vessel)
    both = [part for part in (now.drug, drug) if part is not None]
    return VesselContents(now.volume + volume, sum(both[1:], both[0]) if both else None, now.vessel)


def _taken(now: VesselContents | None, step: Step, *, stays: bool) -> VesselContents:
    """A part with its share of the drug taken out: thrown away (what is left ``stays``) or drawn into a syringe."""
    if now is None or step.volume is None or units.quantity(step.volume) >= now.volume:
        raise ValueError(f"more is taken out than is there: {step.text}")
    out = units.quantity(step.volume)
    volume = now.volume - out if stays else out
    drug = None if now.drug is None else now.drug * (volume / now.volume).magnitude
    return VesselContents(volume, drug, now.vessel if stays else "syringe")


def strength_text(strength: Quantity) -> str:
    """A strength as a label says it: ``10 mcg per mL``, ``0.1 units per mL``."""
    return text.amount_text(units.amount(strength, f"{_unit(strength * ONE_ML, 'syringe')}/mL"))


def volume_text(volume: Quantity) -> str:
    """A volume with as many digits as bags and syringes show: ``502.5 mL``."""
    return f"{text.number_text(units.number(volume, 'mL'), VOLUME_DIGITS)} mL"


def drug_text(drug: Quantity, vessel: str) -> str:
    """The drug in a syringe in mcg, as its doses are; in a bag in mg, as the vials that went in."""
    return text.amount_text(units.amount(drug, _unit(drug, vessel)))


def _unit(drug: Quantity, vessel: str) -> str:
    if drug.units != ONE_MCG.units:
        return "units"
    return "mg" if vessel == "bag" else "mcg"


def steps_text(treatment: Treatment, rules: RuleSet) -> list[str]:
    """Each recipe step by step with what is held after each.

    A prefilled syringe stands before all mixing; a second way, and each further mix, under a line that names them.
    """
    lines = [] if treatment.recipe is None else _recipe_lines(treatment.recipe, rules)
    for mix in treatment.mixes:
        lines += [_("To mix {mix_title}", mix_title=mix_title(mix)), *_recipe_lines(mix, rules)]
    return lines


@lru_cache(maxsize=32)
def recipe_steps(rules: RuleSet) -> Mapping[str, list[str]]:
    """Strengths and recipes of a rule set in words, by treatment: worked out once, being the same for every patient."""
    return {slug: [*_listed(treatment), *steps_text(treatment, rules)] for slug, treatment in rules.treatments.items()}


def _listed(treatment: Treatment) -> list[str]:
    """The strengths in which it runs or is stocked, by the names that the crew knows."""
    listed = treatment.concentrations or treatment.stocks
    return [
        f"{treatment.title}: {text.amount_text(one.amount)}" + (f", {one.name}" if one.name else "") for one in listed
    ]


def mix_title(recipe: Recipe) -> str:
    """What goes into the bag and what that makes: ``4 mg in 250 mL: 16 mcg per mL``."""
    return f"{total_text(recipe, labeled(recipe)[0])}: {strength_of(recipe)}"


def _recipe_lines(recipe: Recipe, rules: RuleSet) -> list[str]:
    lines = [] if recipe.prefilled is None else [prefilled_text(recipe.prefilled.name, recipe)]
    for number, (name, steps) in enumerate(recipe.ways.items()):
        if number:
            lines.append(_("Or, {way}:", way=name))
        lines += [
            step_text(recipe, step, held, rules) + (f" ({held.text()})" if step.action in CHANGES else "")
            for step, held in zip(steps, contents(steps), strict=True)
        ]
    return lines + [note.text for note in recipe.notes]


def prefilled_text(name: str, recipe: Recipe) -> str:
    """The offer that stands before the mixing, where one is stocked."""
    return _(
        "First, where stocked: {name} of {amount}, nothing to mix; read its label",
        name=name,
        amount=text.amount_text(recipe.makes.amount),
    )


def step_text(recipe: Recipe, step: Step, held: VesselContents, rules: RuleSet) -> str:
    """What is done; a step that labels says all that stands on the label."""
    if step.action != "label":
        return step.text
    warning = [] if recipe.warning is None or held.vessel != "bag" else [recipe.warning.text]
    words = [step.text, strength_of(recipe), total_text(recipe, held), *warning]
    return ", ".join([*words, _("time mixed"), discard_text(rules), _("initials")])


def strength_of(recipe: Recipe) -> str:
    """The strength on the label."""
    return text.amount_text(recipe.makes.amount)


def total_text(recipe: Recipe, held: VesselContents) -> str:
    """Drug and volume on the label: ``100 mcg in 10 mL``.

    Where the strength is nominal one of the two follows from it, so that the label agrees with itself: of a bag, into
    which a whole vial went, the volume; of a syringe drawn from it the drug.
    """
    drug, volume = held.drug, held.volume
    if drug is None:
        raise ValueError(_("a label needs a drug"))
    if recipe.nominal and held.vessel == "bag":
        volume = drug / recipe.makes.exact
    elif recipe.nominal:
        drug = recipe.makes.exact * volume
    return f"{drug_text(drug, held.vessel)} in {volume_text(volume)}"


def discard_text(rules: RuleSet) -> str:
    """Until when it keeps: ``discard after 4 h or at handover``."""
    return _(
        "discard after {discard_after_h} h or at handover",
        discard_after_h=text.number_text(rules.ledger.discard_after_h),
    )


def labeled(recipe: Recipe) -> list[VesselContents]:
    """What gets a label: the syringe of a push dose, the bag of an infusion, or a bag and then what is drawn from it.

    Both ways of drawing end at the same label.
    """
    steps = next(iter(recipe.ways.values()))
    return [held for step, held in zip(steps, contents(steps), strict=True) if step.action == "label"]
