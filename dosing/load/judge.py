"""Reads a rule set that somebody sent, a process of its own that may fail: `python -m dosing.load.judge NAME SECONDS`.

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
TOO_MUCH_MEMORY = "takes too much memory to read"


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
    name, seconds = sys.argv[1], int(sys.argv[2])
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    faults = judge(sys.stdin.buffer.read().decode(), name)
    json.dump([asdict(fault) for fault in faults], sys.stdout)


if __name__ == "__main__":
    main()
