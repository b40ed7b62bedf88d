"""Rows as the API answers them: structures, whose docstrings and fields describe them to other programs."""

from __future__ import annotations

from consult.models import Membership


def name_of(membership: Membership) -> str:
    """The name of a person or device as screens write it."""
    return membership.user.display_name if membership.user else membership.name
