"""Makes who takes part in a shift: units with a device each, two physicians, a director who approves the rules.

`python -m tests.faults.people UNITS RULES`, in a process of its own, migrates the database and prints their tokens.
"""

from __future__ import annotations

import json
import sys

import django


def main(units: int, rules: str) -> None:
    """Migrate, make the accounts, put the rules in force; prints the accounts and the devices as JSON."""
    django.setup()
    from django.core.management import call_command

    from consult import clock
    from consult.actions import demonstration

    call_command("migrate", verbosity=0)
    now = clock.now()
    made = demonstration.make_accounts(now)
    director = demonstration.PEOPLE["director"][0]
    call_command("approve_rule_set", rules, "--by", director, "--agency", demonstration.AGENCY, stdout=sys.stderr)
    print(json.dumps({**made, "devices": demonstration.make_devices(units, now)}))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2])
