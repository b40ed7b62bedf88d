"""One process of the board: started in a session of its own, dead with its parent, ended politely and then firmly."""

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.conf import settings

PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None) if sys.platform == "linux" else None


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
        child.command,
        cwd=settings.BASE_DIR,
        env={**os.environ, **child.environment},
        stdin=subprocess.DEVNULL,
        start_new_session=True,
        # The parent starts no thread before its last child, which is what makes this hook safe.
        preexec_fn=_die_with_parent if _libc else None,  # noqa: PLW1509
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


def _die_with_parent() -> None:
    if _libc is not None:
        _libc.prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
