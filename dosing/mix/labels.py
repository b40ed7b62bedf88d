"""What stands on the label of a syringe or a bag, and the color that the published standard gives its class of drug.

The standard is ISO 26825:2020, for syringes during anesthesia; color only helps, the words say all.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache

from dosing.ground import tables, text, units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.units import Quantity
from dosing.mix import dilution, stock
from dosing.rules.rule_set import Recipe, RuleSet, Strength, Treatment

BLACK_BAR = "black bar"
STANDARD = "ISO 26825"


@dataclass(frozen=True, slots=True, kw_only=True)
class Color:
    """A class of drug and its background by ISO 26825; ``opposite``: with the white stripes of an antagonist."""

    drug_class: str
    color: str
    number: str
    opposite: bool
    source: str
    mark: str

    @property
    def words(self) -> str:
        """The same in words, so that a black and white print says it: ``vasopressor, violet in ISO 26825``."""
        told = {"drug_class": self.drug_class, "color": self.color, "standard": STANDARD}
        if self.opposite:
            return _("{drug_class}, {color} and white stripes in {standard}", **told)
        return _("{drug_class}, {color} in {standard}", **told)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label: every text as it is printed; ``total`` and ``exactly`` are empty where there is nothing to say.

    ``discard_at`` is the latest time, in hours after mixing by the rule set, or at the handover if that is earlier.
    """

    vessel: str
    drug: str
    strength: str
    mixed_at: datetime
    discard_at: datetime
    total: str = ""
    exactly: str = ""
    warning: str = ""
    color: Color | None = None
    black_bar: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation:
    """One way in which a treatment comes to be in a syringe or a bag, with a label for each vessel that it fills."""

    name: str
    title: str
    labels: tuple[Label, ...]


def preparations(treatment: Treatment, rules: RuleSet, mixed_at: datetime) -> list[Preparation]:
    """Every recipe of a treatment, then what comes ready and is drawn up as it is; empty for fluid and blood."""
    mixed = [_of_recipe(treatment, recipe, rules, mixed_at) for recipe in treatment.recipes]
    made = {recipe.makes.exact for recipe in treatment.recipes}
    listed = treatment.concentrations if treatment.form == "infusion" else treatment.stocks
    return mixed + [_ready(treatment, one, rules, mixed_at) for one in listed if one.exact not in made]


def of_container(
    treatment: Treatment, rules: RuleSet, *, vessel: str, strength: Amount, volume: Amount, mixed_at: datetime
) -> Label:
    """The label of what was recorded as mixed: its strength and volume as they were stated."""
    exact = units.quantity(strength)
    drug = dilution.drug_text(exact * units.quantity(volume), vessel)
    recipe = next((one for one in treatment.recipes if stock.alike(one.makes.exact, exact)), None)
    total = f"{drug} in {dilution.volume_text(units.quantity(volume))}"
    warning = recipe.warning.text if recipe is not None and recipe.warning is not None and vessel == "bag" else ""
    said = text.amount_text(strength)
    return _label(treatment, rules, mixed_at, vessel=vessel, strength=said, total=total, warning=warning)


def _of_recipe(treatment: Treatment, recipe: Recipe, rules: RuleSet, mixed_at: datetime) -> Preparation:
    labels = tuple(
        _label(
            treatment,
            rules,
            mixed_at,
            vessel=held.vessel,
            strength=dilution.strength_of(recipe),
            total=dilution.total_text(recipe, held),
            exactly=_exactly(recipe, held.strength),
            warning=recipe.warning.text if recipe.warning is not None and held.vessel == "bag" else "",
        )
        for held in dilution.labeled(recipe)
    )
    return Preparation(name=_name(recipe.makes), title=dilution.mix_title(recipe), labels=labels)


def _exactly(recipe: Recipe, strength: Quantity | None) -> str:
    """What a nominal strength is exactly: ``exactly 99 mcg per mL``."""
    return (
        _("exactly {strength}", strength=dilution.strength_text(strength))
        if recipe.nominal and strength is not None
        else ""
    )


def _ready(treatment: Treatment, strength: Strength, rules: RuleSet, mixed_at: datetime) -> Preparation:
    vessel = "bag" if treatment.form == "infusion" else "syringe"
    said = text.amount_text(strength.amount)
    label = _label(treatment, rules, mixed_at, vessel=vessel, strength=said)
    return Preparation(
        name=_name(strength), title=_("{strength}, total written by hand", strength=said), labels=(label,)
    )


def _name(strength: Strength) -> str:
    """A strength as it stands in an address: ``10-mcg-per-mL``."""
    return text.amount_text(strength.amount).replace(" ", "-").replace(",", "")


def _label(treatment: Treatment, rules: RuleSet, mixed_at: datetime, **words: str) -> Label:
    return Label(
        drug=drug_name(treatment.drug, rules),
        mixed_at=mixed_at,
        discard_at=mixed_at + timedelta(hours=rules.ledger.discard_after_h),
        color=color_of(treatment.drug),
        black_bar=treatment.drug in tables.load("mix/labels")[BLACK_BAR]["drugs"],
        **words,
    )


def drug_name(drug: str, rules: RuleSet) -> str:
    """The name as clause 5.4.2 wants it: in tall-man letters where a list has it, else with an initial capital."""
    tall = text.drug_text(drug, rules.tall_man)
    return tall if tall != drug else drug[:1].upper() + drug[1:]


@cache
def color_of(drug: str) -> Color | None:
    """The class and color of a drug by its plain name; None where the standard's table has no class for it."""
    for name, table in tables.load("mix/labels").items():
        if name != BLACK_BAR and drug in table["drugs"]:
            return Color(
                drug_class=name,
                color=table["color"],
                number=table["number"],
                opposite=table.get("opposite", False),
                source=table["source"],
                mark=table["mark"],
            )
    return None
