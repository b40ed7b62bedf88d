"""The demonstration's links and accounts as lines for a person who wants to sign in."""

from collections.abc import Iterator, Mapping
from typing import Any

from consult.actions import demonstration

TITLES = {
    "physician": "Physician",
    "crew": "Crew of {unit}",
    "supervisor": "Supervisor",
    "director": "Medical director",
}


def welcome_lines(base: str, accounts: Mapping[str, Any]) -> list[str]:
    """What a newcomer reads: one link a role that signs in with a press, and user names and passwords behind it."""
    lines = ["", "Open a link and press its button (on this machine, while this runs):", ""]
    for role, title in TITLES.items():
        lines.append(f"  {title.format(**accounts[role])}: {demonstration.LINKS[role][2]}")
        lines.append(f"    {base}{demonstration.link_path(role)}")
    by_hand = f"By hand, at {base}/sign-in/ (user name, password):"
    return [
        *lines,
        "",
        "To be two people at once, use a private window for the second.",
        "",
        by_hand,
        *sign_in_lines(accounts),
    ]


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
