"""Passwords that are refused whatever page sets them.

NIST SP 800-63B, section 5.1.1.2: breached passwords, dictionary words, repetitive or sequential characters (aaaaaa,
1234abcd), and context-specific words such as the user name are not to be accepted (quoted from memory).
"""

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from consult.models import User

MERRIN = User(username="idam", first_name="Dr. Ida Merrin")


def codes(password: str) -> set[str]:
    """Why the password is refused; nothing where it is not."""
    try:
        validate_password(password, MERRIN)
    except ValidationError as refusal:
        return {error.code for error in refusal.error_list}
    return set()


@pytest.mark.parametrize(
    ("password", "code"),
    [
        ("aaaaaaaaaaaaaaaa", "pattern"),
        ("aaaabbbbccccdddd", "pattern"),
        ("kestrelkestrel", "pattern"),
        ("abcdefghijklmnop", "pattern"),
        ("123456789012345", "pattern"),
        ("9876543210987654", "pattern"),
        ("my-idam-of-2030", "own_name"),
        ("the MERRIN family", "own_name"),
        ("plover heron", ""),
        ("seven dry lanterns", ""),
        ("x7!kQ2#pL9vT", ""),
        ("short", "password_too_short"),
    ],
)
def test_what_a_person_would_guess_is_refused(password: str, code: str) -> None:
    assert codes(password) == ({code} if code else set())


def test_a_common_password_is_refused_even_if_it_is_long() -> None:
    """From the list of 20,000 that ships with Django (compiled by Royce Williams)."""
    assert "password_too_common" in codes("1q2w3e4r5t6y7u8i9o0p")
