"""Names that people give to agencies, units, devices and accounts: tidied once, compared without regard to case."""

from __future__ import annotations

import unicodedata
from zoneinfo import available_timezones

from django.contrib.auth.validators import ASCIIUsernameValidator
from django.core.exceptions import ValidationError

from consult.problems import Invalid
from consult.unseen import NOT_IN_A_NAME

USERNAME_MOST = 60


def tidy(text: str, what: str, most: int) -> str:
    """The name without white space around it, single spaces inside, composed (NFC); raises ``Invalid``."""
    name = unicodedata.normalize("NFC", " ".join(text.split()))
    if NOT_IN_A_NAME.search(name) or not name.isprintable():
        raise Invalid(f"The {what} holds a character that cannot be seen. Type it again.")
    if not any(letter.isalnum() for letter in name):
        raise Invalid(f"The {what} needs at least one letter or digit.")
    if len(name) > most:
        raise Invalid(f"The {what} has {len(name)} characters, at most {most} fit.")
    return name


def folded(text: str) -> str:
    """What two names have in common that a person would take for the same one."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def username(text: str) -> str:
    """A user name in small letters (ASCII letters, digits and ``@ . + - _``); raises ``Invalid``."""
    name = text.strip().lower()
    try:
        ASCIIUsernameValidator()(name)
    except ValidationError:
        raise Invalid("A user name has letters a to z, digits and @ . + - _ only, and no spaces.") from None
    if len(name) > USERNAME_MOST:
        raise Invalid(f"The user name has {len(name)} characters, at most {USERNAME_MOST} fit.")
    return name


def time_zone(text: str) -> str:
    """A time zone by its name in the IANA database, such as ``Europe/Dublin``; raises ``Invalid``."""
    zones = {folded(zone): zone for zone in available_timezones()}
    if zone := zones.get(folded(text)):
        return zone
    raise Invalid(f"There is no time zone {text!r}. A name such as America/Denver or Europe/Dublin is needed.")
