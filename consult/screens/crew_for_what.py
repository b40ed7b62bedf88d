"""What a dose is for and by which route, where the limits of a treatment differ: a page is of one of each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from dosing.ground.text import route_text
from dosing.rules.rule_set import Treatment
from dosing.rules.treatment import routes_alike

Row = Mapping[str, Any]


class Chosen(NamedTuple):
    """What was chosen; an empty text, or one that the treatment lacks, is its usual one."""

    indication: str = ""
    route: str = ""


def row_of(told: Row, chosen: Chosen) -> dict[str, Any]:
    """The guidance of one treatment as it is for what was chosen, its amounts and routes those of that route."""
    inside = told["indications"]
    row = next((each for each in inside if each["indication"] == chosen.indication), inside[0] if inside else told)
    groups = row["by_route"]
    group = next((each for each in groups if chosen.route in each["routes"]), groups[0] if groups else {})
    return {**row, **group, "by_route": []}


def choices(treatment: Treatment, row: Row) -> dict[str, Any]:
    """The indications, and the groups of routes, between which the page lets choose; none where there is but one."""
    for_what = [
        {"key": slug, "text": each.title, "current": slug == row["indication"]}
        for slug, each in treatment.indications.items()
    ]
    by = [
        {"key": routes[0], "text": ", ".join(map(route_text, routes)), "current": routes[0] in row["routes"]}
        for routes in routes_alike(treatment)
    ]
    return {"for_what": for_what if len(for_what) > 1 else [], "by_routes": by if len(by) > 1 else []}


def picked(row: Row, chosen: Chosen) -> dict[str, str]:
    """The route that was chosen already where the page is of that one alone; nothing is chosen for anybody else."""
    return {"route": chosen.route} if row["routes"] == [chosen.route] else {}
