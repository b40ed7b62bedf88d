"""Whether the rules have changed since somebody read them last: the notice on the pages of who decides or looks on."""

from __future__ import annotations

from typing import Any

from consult import queries
from consult.access import Actor
from consult.models import Agency, Membership


def news_for(actor: Actor, agency: Agency) -> dict[str, Any] | None:
    """What was in force when this person read the rules last, and the adoption that changed it; None without change."""
    seen = Membership.objects.select_related("rules_seen").get(pk=actor.membership).rules_seen
    if seen is None or agency.rule_set is None or seen.digest == agency.rule_set.digest:
        return None
    lines = queries.agency_journal(agency.pk, "rule_set.adopted", 1)
    return {"before": seen, "now": agency.rule_set, "line": lines[0] if lines else None}
