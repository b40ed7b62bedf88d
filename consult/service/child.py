"""One process of the board: started in a session of its own, dead with its parent, ended politely and then firmly."""

import contextlib
import os
import signal
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.conf import settings

# Asks Linux (prctl, PR_SET_PDEATHSIG) to be killed when its parent ends, and becomes the program. It is a program of
# its own: what runs between fork and exec may wait for ever where the parent has threads, as it has once it serves.
_DIES_WITH_PARENT = (
    "import ctypes, os, sys; ctypes.CDLL(None).prctl(1, 9); "
    "os.getppid() == int(sys.argv[1]) or os._exit(1); os.execvp(sys.argv[2], sys.argv[2:])"
)


@dataclass
class Child:
    """A command with its name, the seconds it may take to end, and further environment."""

    name: str
    command: Sequence[str]
    patience: float = 0.4
    environment: Mapping[str, str] = field(default_factory=dict)
    process: subprocess.Popen[bytes] | None = None

    def exit_text(self) -> str:
        """How it ended, for a person: "exit code 1" or "signal 9"."""
        code = self.process.returncode if self.process else None
        return f"signal {-code}" if code is not None and code < 0 else f"exit code {code}"


def start(child: Child) -> Child:
    """Start it; a terminal's Ctrl-C reaches only the parent, since the child leads a session of its own."""
    child.process = subprocess.Popen(
        _dying_with_parent(child.command),
        cwd=settings.BASE_DIR,
        env={**os.environ, **child.environment},
        stdin=subprocess.DEVNULL,
        start_new_session=True,
    )
    return child


def ended(child: Child) -> bool:
    """Whether the process was started and runs no more."""
    return child.process is not None and child.process.poll() is not None


def stop(children: Iterable[Child]) -> None:
    """SIGTERM to all, then SIGKILL for a process and what it started once its patience is over."""
    running = [(child, child.process) for child in children if child.process and not ended(child)]
    for _, process in running:
        process.terminate()
    for child, process in running:
        try:
            process.wait(child.patience)
        except subprocess.TimeoutExpired:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _dying_with_parent(command: Sequence[str]) -> list[str]:
    if sys.platform != "linux":
        return [*command]
    return [sys.executable, "-ISc", _DIES_WITH_PARENT, str(os.getpid()), *command]
