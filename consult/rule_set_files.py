"""Rule sets that somebody sends: judged in a process of its own before any of ours reads them."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
from functools import partial

from django.conf import settings

from dosing.load import reader
from dosing.load.faults import Fault, RuleSetFaults
from dosing.load.size import MOST_CHARACTERS
from dosing.rules.rule_set import RuleSet

MOST_SECONDS = 10  # of the processor
MOST_WAIT_S = 60.0  # a machine with much else to do is no fault of the file
LONGEST_NAME = 200
TOO_LARGE = "is larger than any rule set"
TOO_LONG = f"takes longer to read than any rule set: it was given up after {MOST_SECONDS} s"
TOO_BUSY = f"could not be read within {MOST_WAIT_S:.0f} s, the machine is too busy: try again"
TOO_MUCH = "takes too much memory to read"
# One at a time in each process: each may take half a gigabyte for its ten seconds.
_one = threading.Lock()


def read(text: str, name: str) -> RuleSet:
    """The rule set that a file's text stands for; raises RuleSetFaults, also where it would cost too much to read."""
    name = name[:LONGEST_NAME].replace("\0", "")
    if len(text) > MOST_CHARACTERS:
        raise _refused(name, TOO_LARGE)
    if _ships(text):
        return reader.loads(text, name)
    with _one:
        faults = _judged(text, name)
    if faults:
        raise RuleSetFaults(faults)
    return reader.loads(text, name)


def _ships(text: str) -> bool:
    """Whether it is one of the project's own, which are read in any case."""
    return any(text == file.read_text(encoding="utf-8") for file in reader.SHIPPED.glob("*.toml"))


def _judged(text: str, name: str) -> list[Fault]:
    command = [sys.executable, "-m", "dosing.load.judge", name, str(MOST_SECONDS)]
    sent = text.encode(errors="replace")
    run = partial(subprocess.run, cwd=settings.BASE_DIR, capture_output=True, check=False)
    try:
        done = run(command, input=sent, timeout=MOST_WAIT_S)
    except subprocess.TimeoutExpired:
        raise _refused(name, TOO_BUSY) from None
    if done.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
        raise _refused(name, TOO_LONG)
    if done.returncode:
        raise _refused(name, TOO_MUCH)
    return [Fault(**fault) for fault in json.loads(done.stdout)]


def _refused(name: str, why: str) -> RuleSetFaults:
    return RuleSetFaults([Fault(name, "", 0, why)])
