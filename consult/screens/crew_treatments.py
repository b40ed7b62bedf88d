"""What a crew may give: guidance as lines, the recipe to tick. All numbers come from the rules, sources stand there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from consult import clock, zone
from consult.clock import stamp
from consult.render.case import left_text, passed_text
from consult.render.words import NAMES, plain
from dosing.check.findings import AGAINST, BEYOND, PASSING
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.text import amount_text, drug_text, minutes_text, number_text, over_text, route_text
from dosing.mix import dilution
from dosing.rules.rule_set import Recipe, RuleSet, Step, Treatment

Row = Mapping[str, Any]

OTHER_DRUGS = _("Other drugs")
CLASSES = {
    ("push", "pressor"): _("Pressor push doses"),
    ("bolus", "fluid"): _("Fluid and blood"),
    ("bolus", "blood"): _("Fluid and blood"),
}
FORMS = {"infusion": _("Infusions"), "im": _("IM doses")}
HEADINGS = (*dict.fromkeys(CLASSES.values()), *FORMS.values(), OTHER_DRUGS)
GROUPS = FITTING, NOT_YET, BY_ORDER, OTHERS, MORE_OTHERS, OTHERS_BY_ORDER, NO_MOTHER, HELD, NOT_CALLED_FOR = (
    _("Within the standing limits, for this impression"),
    _("Not yet: wait, or measure first"),
    _("By order, for this impression"),
    _("Within the standing limits, for other impressions"),
    _("More within the standing limits"),
    _("By order, for other impressions"),
    _("Needs a pregnancy or birth on record"),
    _("Not for this patient now"),
    _("Not indicated now"),
)


def title(treatment: Treatment, rules: RuleSet) -> str:
    """What the treatment is called, in the letters of the look-alike lists."""
    return drug_text(treatment.title, rules.tall_man)


def by_form(items: Iterable[Row], rules: RuleSet) -> list[dict[str, Any]]:
    """Treatments under headings by how they are given; a drug pushed that is no pressor stands among the others."""
    known = [(_heading(rules.treatments[item["treatment"]]), item) for item in items]
    groups = [{"title": name, "items": [item for head, item in known if head == name]} for name in HEADINGS]
    return [group for group in groups if group["items"]]


def _heading(treatment: Treatment) -> str:
    """A heading by form and class; what is neither pressor, fluid nor blood goes by its form alone, or under others."""
    named = FORMS.get(treatment.form, "")
    return named or CLASSES.get((treatment.form, treatment.drug_class), OTHER_DRUGS)


def all_titles(rules: RuleSet) -> list[dict[str, Any]]:
    """Every treatment of the rule set under its heading: the same list whatever was ordered."""
    rows = [{"treatment": slug, "title": title(treatment, rules)} for slug, treatment in rules.treatments.items()]
    return by_form(sorted(rows, key=lambda row: str(row["title"]).lower()), rules)


def guidance_groups(rows: Iterable[Row], rules: RuleSet) -> list[dict[str, Any]]:
    """Guidance in parts, a line an indication: fitting, not yet, by order, others, and, folded, the rest."""
    items = [guidance_item(each, rules) for row in rows for each in (row["indications"] or [row])]
    items.sort(key=lambda item: not item["relevant"])  # of one treatment not every indication fits
    groups = [{"title": name, "items": [item for item in items if _group(item) == name]} for name in GROUPS]
    return [
        {**group, "folded": group["title"] not in (FITTING, NOT_YET, BY_ORDER, OTHERS)}
        for group in groups
        if group["items"]
    ]


def _group(item: Row) -> str:
    if item["closed"]:
        return HELD
    if item["no_mother"]:
        return NO_MOTHER
    if not item["relevant"] and item["folds"] and any(each["code"] in AGAINST for each in item["findings"]):
        return NOT_CALLED_FOR
    if item["by_order"]:
        return BY_ORDER if item["relevant"] else OTHERS_BY_ORDER
    if item["waits"]:
        return NOT_YET
    return FITTING if item["relevant"] else MORE_OTHERS if item["folds"] else OTHERS


def guidance_item(row: Row, rules: RuleSet) -> dict[str, Any]:
    """One treatment of the guidance as a line: limits in words, what is left, when again, what to mind."""
    treatment = rules.treatment(row["treatment"], row["indication"])
    findings = row.get("findings") or []
    beyond = [finding for finding in findings if finding["level"] in BEYOND]
    waits = [finding for finding in beyond if finding["code"] in PASSING]
    asks = [finding for finding in beyond if finding not in waits]
    closed = row["held"] or any(finding["level"] == "over_hard_limit" for finding in findings)  # no order opens it
    by_order = not closed and (treatment.starts_by_order is not None or not row.get("most") or bool(asks))
    lines = (
        limits_lines(row)
        if row.get("most")
        else [_("not for this patient now") if row["held"] else _("needs an order")]
    )
    return {
        **row,
        "title": drug_text(row["title"], rules.tall_man),
        "by_order": by_order,
        "closed": closed,
        "waits": bool(waits),
        "folds": not treatment.never_gated_in,
        "next_at": _stamp(row.get("next_at")),
        "limits": ": ".join([*lines, *_why_held(row)]) if row["held"] else "; ".join(lines),
        "lines": lines,
        "limits_of": _("Limits for an order") if by_order and row.get("most") else _("Standing limits"),
        "when": _("Measure first") if waits and not by_order and not row.get("next_at") else "",
        "left_text": left_text(row.get("left")),
        "passed": passed_text(row.get("left")),
        "findings": findings,
        "told": [each for each in findings if not by_order or each["code"] != "starts_by_order"],  # its group says it
    }


def _why_held(row: Row) -> list[str]:
    """What bars it, whoever orders."""
    return [zone.here(each["text"], clock.now()) for each in row["findings"] if each["level"] == "over_hard_limit"][:1]


def limits_lines(row: Row) -> list[str]:
    """The standing limits in words: ``10–20 mcg = 1–2 mL, at least 2 min apart``; a line a route where they differ."""
    lines = [f"{', '.join(map(route_text, each['routes']))}: {_span(each)}" for each in row["by_route"]] or [_span(row)]
    unknown = ", ".join(NAMES.get(name, plain(name)) for name in row.get("missing") or ())
    return [*lines, _("unknown: {unknown}", unknown=unknown)] if unknown else lines


def _span(row: Row) -> str:
    least, most = amount_of(row.get("least")), amount_of(row.get("most"))
    volumes = row.get("volumes") or {}
    parts = [span_text(least, most), span_text(amount_of(volumes.get("least")), amount_of(volumes.get("most")))]
    if (start := amount_of(row.get("start"))) and most and start != most:
        parts = [_("start {start}, step up to {most}", start=span_text(least, start), most=amount_text(most))]
    slowly = over_text(row["shortest"]["value"], _("at least ")) if row["shortest"] else ""
    every = _(", at least {value} apart", value=minutes_text(row["interval"]["value"])) if row["interval"] else ""
    return " = ".join(filter(None, parts)) + slowly + every


def span_text(least: Amount | None, most: Amount | None) -> str:
    """``10–20 mcg``, ``up to 1,000 mL``, or one amount where both are the same."""
    if most is None:
        return ""
    if least is None:
        return _("up to {most}", most=amount_text(most))
    if least == most:
        return amount_text(most)
    if least.unit != most.unit:
        return _("{least} to {most}", least=amount_text(least), most=amount_text(most))
    return f"{number_text(least.value)}–{amount_text(most)}"


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


def _step(recipe: Recipe, step: Step, held: dilution.VesselContents, rules: RuleSet) -> dict[str, str]:
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


def amount_of(value: object) -> Amount | None:
    """An amount that came as plain values; None for anything else."""
    if isinstance(value, Mapping) and {"value", "unit"} <= value.keys():
        return Amount(value["value"], value["unit"])
    return None


def _stamp(value: object) -> str:
    return stamp(value) if isinstance(value, datetime) else str(value or "")
