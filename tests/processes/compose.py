"""The services of docker-compose.yml, and the words with which each is started, on this machine."""

import sys
from pathlib import Path
from typing import Any

import yaml

from tests.processes.board_process import PROJECT

COMPOSE_TEXT = (PROJECT / "docker-compose.yml").read_text()
COMPOSE: dict[str, Any] = yaml.safe_load(COMPOSE_TEXT)
SERVICES: dict[str, Any] = COMPOSE["services"]


def command_of(service: str, port: int) -> list[str]:
    """The service's command as it stands in the file, but on this port of this machine alone."""
    here = {"--port=8000": f"--port={port}", "--host=0.0.0.0": "--host=127.0.0.1"}
    program, *words = SERVICES[service]["command"]
    return [str(Path(sys.executable).with_name(program)), *(here.get(word, word) for word in words)]
