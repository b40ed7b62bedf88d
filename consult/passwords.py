"""What a password may not be, beside Django's own checks: guessable from its pattern or from whose it is."""

from __future__ import annotations

import re
from itertools import pairwise

from django.contrib.auth.base_user import AbstractBaseUser
from django.core.exceptions import ValidationError

from dosing.ground.language import gettext as _

CHARACTERS_LEAST = 5
STEPS_LEAST = 3
USERNAME_LEAST, NAME_LEAST = 3, 4  # shorter ones stand inside too many words by chance


class NoPattern:
    """Refuses few characters used over and over, one piece repeated, and runs such as 123456789012."""

    def validate(self, password: str, user: AbstractBaseUser | None = None) -> None:
        """Raises ``ValidationError`` where the password follows from a rule that a person would try."""
        text = password.casefold()
        steps = {ord(after) - ord(before) for before, after in pairwise(text)}
        repeats = text in (text + text)[1:-1]
        if repeats or len(set(text)) < CHARACTERS_LEAST or len(steps) < STEPS_LEAST:
            raise ValidationError(_("This pattern is easy to guess. Use several unrelated words."), "pattern")

    def get_help_text(self) -> str:
        """One sentence for the form."""
        return _("No repeated characters, no runs such as 12345.")


class NoOwnName:
    """Refuses a password that holds the user name or a name of the person."""

    def validate(self, password: str, user: AbstractBaseUser | None = None) -> None:
        """Raises ``ValidationError`` where one of the names stands in the password, in any case."""
        if any(name in password.casefold() for name in _names(user)):
            raise ValidationError(_("This contains your name or user name. Use other words."), "own_name")

    def get_help_text(self) -> str:
        """One sentence for the form."""
        return _("Not your name or user name.")


def _names(user: AbstractBaseUser | None) -> set[str]:
    if user is None:
        return set()
    username = user.get_username().casefold()
    words = re.findall(r"\w+", f"{getattr(user, 'first_name', '')} {getattr(user, 'last_name', '')}".casefold())
    return {name for name in (username,) if len(name) >= USERNAME_LEAST} | {w for w in words if len(w) >= NAME_LEAST}
