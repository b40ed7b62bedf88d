"""The demonstration accounts as lines for a person who wants to sign in."""

from collections.abc import Iterator, Mapping
from typing import Any


def people(accounts: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Name and account of each, the other agency's as "outsider crew" and so on."""
    for name, account in accounts.items():
        if "username" in account:
            yield f"{prefix}{name}", account
        else:
            yield from people(account, f"{prefix}{name} ")


def sign_in_lines(accounts: Mapping[str, Any]) -> list[str]:
    """One line each: who, user name, password, and the unit of a crew."""
    return [
        f"  {name:<20}{account['username']:<24}{account['password']:<28}{account.get('unit', '')}".rstrip()
        for name, account in people(accounts)
    ]
