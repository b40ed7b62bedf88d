"""Reads a rule set that somebody sent, as a process of its own that may fail: `python -m dosing.load.judge NAME`.

The text comes by standard input; its faults go out as a JSON list, empty where it is a rule set. A text that takes more
memory or time than any rule set ends this process and no other.
"""

from __future__ import annotations

import json
import resource
import sys
from dataclasses import asdict

from dosing.load import reader
from dosing.load.faults import Fault, RuleSetFaults

MOST_MEMORY = 512 * 1024 * 1024
MOST_SECONDS = 10
TOO_MUCH_MEMORY = "takes more memory to read than any rule set"


def judge(text: str, name: str) -> list[Fault]:
    """The faults of this text."""
    try:
        reader.loads(text, name)
    except RuleSetFaults as refused:
        return refused.faults
    except MemoryError:
        return [Fault(name, "", 0, TOO_MUCH_MEMORY)]
    return []


def main() -> None:
    """Hold this process to its limits, then judge."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    faults = judge(sys.stdin.buffer.read().decode(), sys.argv[1])
    json.dump([asdict(fault) for fault in faults], sys.stdout)


if __name__ == "__main__":
    main()
