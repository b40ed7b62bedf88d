"""Makes who takes part in a shift: units with a device each, two physicians, a director who approves the rules.

`python -m tests.faults.people UNITS RULES`, in a process of its own, migrates the database and prints their tokens.
"""

from __future__ import annotations

import json
import sys
from contextlib import suppress
from functools import partial

import django

TRIES = 4  # a file is judged for 10 s at most, which a machine with much to do may not give it


def main(units: int, rules: str) -> None:
    """Migrate, make the accounts, put the rules in force; prints the accounts and the devices as JSON."""
    django.setup()
    from django.core.management import CommandError, call_command

    from consult import clock
    from consult.actions import demonstration

    call_command("migrate", verbosity=0)
    now = clock.now()
    made = demonstration.make_accounts(now)
    director = demonstration.PEOPLE["director"][0]
    approve = partial(call_command, "approve_rule_set", rules, by=director, agency=demonstration.AGENCY)
    for _ in range(TRIES - 1):
        with suppress(CommandError):
            approve(stdout=sys.stderr)
            break
    else:
        approve(stdout=sys.stderr)
    print(json.dumps({**made, "devices": demonstration.make_devices(units, now)}))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2])
