"""Rule sets adopted by agencies: kept by their digest with the file's text, so that a check can be understood later."""

from __future__ import annotations

from consult.models import RuleSetRecord
from dosing import rule_set


def shipped(name: str) -> RuleSetRecord:
    """The record of a rule set that ships with the project, made if it is not there yet; approved by nobody."""
    rules = rule_set.load_shipped(name)
    known = {"name": rules.name, "version": rules.version, "content": rules.text}
    record, _ = RuleSetRecord.objects.get_or_create(digest=rules.digest, defaults=known)
    return record
