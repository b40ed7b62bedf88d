"""What a crew may give: guidance as lines, choices of a form, the recipe to tick. All numbers come from the rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from fractions import Fraction
from typing import Any

from consult.clock import stamp
from consult.render.words import NAMES, plain
from dosing import dilution
from dosing.facts import Amount
from dosing.rule_set import Recipe, RuleSet, Step, Treatment
from dosing.text import amount_text, drug_text, minutes_text, number_text

Row = Mapping[str, Any]

FORMS = (
    ("Push doses", ("push",)),
    ("Fluid and blood", ("bolus",)),
    ("Infusions", ("infusion",)),
    ("Into the muscle", ("im",)),
)
PARTS = (Fraction(1), Fraction(1, 2), Fraction(1, 4))
MOST_DIGITS = 2
TIMED = ("too_soon", "no_pressure_since_last_dose")  # findings that waiting or measuring takes away
BEYOND = ("needs_order", "over_hard_limit")


def title(treatment: Treatment, rules: RuleSet) -> str:
    """What the treatment is called, in the letters of the look-alike lists."""
    return drug_text(treatment.title, rules.tall_man)


def by_form(items: Iterable[Row], rules: RuleSet) -> list[dict[str, Any]]:
    """Treatments under headings by how they are given; a drug pushed that is no pressor stands among the others."""
    known = list(items)
    groups = [
        {"title": name, "items": [item for item in known if rules.treatments[item["treatment"]].form in forms]}
        for name, forms in FORMS
    ]
    return [group for group in groups if group["items"]]


def all_titles(rules: RuleSet) -> list[dict[str, Any]]:
    """Every treatment of the rule set under its heading: the same list whatever was ordered."""
    rows = [{"treatment": slug, "title": title(treatment, rules)} for slug, treatment in rules.treatments.items()]
    return by_form(sorted(rows, key=lambda row: str(row["title"]).lower()), rules)


def guidance_groups(rows: Iterable[Row], rules: RuleSet) -> list[dict[str, Any]]:
    """Guidance in three parts: within the standing limits and fitting the patient, by order only, and the others."""
    items = [guidance_item(row, rules) for row in rows]
    within = [item for item in items if not item["by_order"]]
    groups = [
        {
            "title": "Within the standing limits, fitting the impression",
            "items": [item for item in within if item["relevant"]],
        },
        {"title": "By order only", "items": [item for item in items if item["by_order"]]},
        {
            "title": "Within the standing limits, for other impressions",
            "items": [item for item in within if not item["relevant"]],
        },
    ]
    return [group for group in groups if group["items"]]


def guidance_item(row: Row, rules: RuleSet) -> dict[str, Any]:
    """One treatment of the guidance as a line: limits in words, what is left, when again, what to mind."""
    treatment = rules.treatments[row["treatment"]]
    findings = row.get("findings") or []
    waits = [finding for finding in findings if finding["code"] in TIMED]
    asks = [finding for finding in findings if finding["level"] in BEYOND and finding not in waits]
    by_order = treatment.starts_by_order is not None or not row.get("most") or bool(asks)
    return {
        **row,
        "title": drug_text(row["title"], rules.tall_man),
        "by_order": by_order,
        "next_at": _stamp(row.get("next_at")),
        "limits": "needs an order" if not row.get("most") else limits_text(row, treatment),
        "when": "By order" if by_order else "Measure first" if waits and not row.get("next_at") else "",
        "left_text": left_text(row.get("left")),
        "cautions": [_text(caution) for caution in row.get("cautions") or ()],
        "findings": findings,
        "source": _text(row.get("source") or ""),
    }


def limits_text(row: Row, treatment: Treatment) -> str:
    """The standing limits in words: ``10–20 mcg = 1–2 mL, at least 2 min apart``."""
    least, most = _amount(row.get("least")), _amount(row.get("most"))
    volumes = row.get("volumes") or {}
    parts = [span_text(least, most), span_text(_amount(volumes.get("least")), _amount(volumes.get("most")))]
    every = f", at least {minutes_text(treatment.interval.value)} apart" if treatment.interval else ""
    unknown = ", ".join(NAMES.get(name, plain(name)) for name in row.get("missing") or ())
    missing = f"; not known: {unknown}" if unknown else ""
    return " = ".join(filter(None, parts)) + every + missing


def span_text(least: Amount | None, most: Amount | None) -> str:
    """``10–20 mcg``, ``up to 1,000 mL``, or one amount where both are the same."""
    if most is None:
        return ""
    if least is None:
        return f"up to {amount_text(most)}"
    if least == most:
        return amount_text(most)
    if least.unit != most.unit:
        return f"{amount_text(least)} to {amount_text(most)}"
    return f"{number_text(least.value)}–{amount_text(most)}"


def left_text(left: object) -> str:
    """What is left before an order is needed; the rules say it as a number of doses or as an amount."""
    if left is None:
        return ""
    amount = _amount(left)
    if amount is not None:
        return f"{amount_text(amount)} left"
    if isinstance(left, Mapping) and {"count", "of"} <= left.keys():
        return f"{left['count']} of {left['of']} left" if left["of"] is not None else ""
    if isinstance(left, Mapping):
        return ", ".join(
            f"{number_text(value)} {name} left" for name, value in left.items() if isinstance(value, int | float)
        )
    return f"{left} left"


def dose_choices(row: Row | None) -> list[dict[str, Any]]:
    """A few amounts between least and most to choose from, each of few digits; each is checked when it is chosen."""
    least, most = (_amount((row or {}).get(name)) for name in ("least", "most"))
    if most is None:
        return []
    low = least.value if least and least.unit == most.unit else None
    middle = [(low + most.value) / 2] if low is not None else [float(part * Fraction(most.value)) for part in PARTS[1:]]
    values = {value for value in (low, *middle, most.value) if value and _round(value)}
    amounts = [Amount(value, most.unit) for value in sorted(values | {most.value})]
    return [{"value": _plain(each.value), "unit": each.unit, "text": amount_text(each)} for each in amounts]


def _round(value: float) -> bool:
    """Whether the value is said in few digits, so that it can be drawn up."""
    return float(f"{value:.{MOST_DIGITS}g}") == value


def _plain(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(value)


def form_facts(treatment: Treatment, rules: RuleSet) -> dict[str, Any]:
    """What the form of one treatment offers: routes, strengths in hand, units."""
    infusion = treatment.form == "infusion"
    strengths = treatment.concentrations if infusion else () if treatment.recipe else treatment.stocks
    return {
        "infusion": infusion,
        "bolus": treatment.form == "bolus",
        "routes": sorted(treatment.routes),
        "strengths": [
            {"value": _plain(each.amount.value), "unit": each.amount.unit, "text": amount_text(each.amount)}
            for each in strengths
        ],
        "units": dose_units(treatment),
        "recipe_makes": amount_text(treatment.recipe.makes.amount) if treatment.recipe else "",
        "recipe": ways(treatment.recipe, rules),
        "prefilled": prefilled(treatment.recipe),
        "after": [note.text for note in treatment.recipe.notes] if treatment.recipe else [],
        "mixes": mixes(treatment, rules),
    }


def dose_units(treatment: Treatment) -> list[str]:
    """The units in which a crew states the dose: the rule set's own first, then their like."""
    like = {"mcg": ("mcg", "mg"), "mg": ("mg", "mcg", "g"), "g": ("g", "mg"), "mL": ("mL",), "bag": ("bag", "mL")}
    if treatment.form != "infusion":
        return list(like.get(treatment.unit, (treatment.unit,)))
    return [
        treatment.unit,
        *(unit for unit in ("mcg/min", "mL/h") if unit != treatment.unit and "units" not in treatment.unit),
    ]


def ways(recipe: Recipe | None, rules: RuleSet) -> list[dict[str, Any]]:
    """A recipe's ways, each a list of steps with what the syringe or bag holds after it."""
    if recipe is None:
        return []
    return [
        {
            "name": name,
            "steps": [
                _step(recipe, step, held, rules) for step, held in zip(steps, dilution.contents(steps), strict=True)
            ],
        }
        for name, steps in recipe.ways.items()
    ]


def _step(recipe: Recipe, step: Step, held: dilution.Held, rules: RuleSet) -> dict[str, str]:
    holds = held.text() if step.action in dilution.CHANGES else ""
    return {"text": dilution.step_text(recipe, step, held, rules), "holds": holds}


def mixes(treatment: Treatment, rules: RuleSet) -> list[dict[str, Any]]:
    """How the bags of an infusion are mixed, each with its ways and the strength that it makes."""
    return [
        {"title": dilution.mix_title(mix), "ways": ways(mix, rules), "source": mix.source} for mix in treatment.mixes
    ]


def prefilled(recipe: Recipe | None) -> str:
    """The offer of a prefilled syringe, where the rules list one."""
    return "" if recipe is None or recipe.prefilled is None else dilution.prefilled_text(recipe.prefilled.name, recipe)


def _amount(value: object) -> Amount | None:
    if isinstance(value, Mapping) and {"value", "unit"} <= value.keys():
        return Amount(value["value"], value["unit"])
    return None


def _stamp(value: object) -> str:
    return stamp(value) if isinstance(value, datetime) else str(value or "")


def _text(value: object) -> str:
    """A caution or source, which the rules give as a text or with its mark."""
    if isinstance(value, Mapping):
        mark = f" ({value['mark']})" if value.get("mark") else ""
        return f"{value.get('text', '')}{mark}"
    return str(value)


def with_ordered(choices: list[dict[str, Any]], amount: object) -> list[dict[str, Any]]:
    """The choices with the ordered amount among them; it too has to be chosen."""
    ordered = _amount(amount)
    if ordered is None:
        return choices
    choice = {"value": _plain(ordered.value), "unit": ordered.unit, "text": amount_text(ordered)}
    return [*choices, choice] if choice["text"] not in {each["text"] for each in choices} else choices
