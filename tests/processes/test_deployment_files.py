"""Dockerfile and docker-compose.yml, checked without an engine: schema, references, secrets.

That the servers start with just the words of the compose file is seen behind its proxy (`test_proxy.py`).
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.processes.board_process import NOT_INHERITED, PROJECT
from tests.processes.compose import COMPOSE, COMPOSE_TEXT, SERVICES

SECRETS = ("SECRET_KEY", "POSTGRES_PASSWORD", "REDIS_PASSWORD")


def tool(name: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a checker that is installed beside the interpreter."""
    command = [str(Path(sys.executable).with_name(name)), *words]
    return subprocess.run(command, cwd=PROJECT, capture_output=True, text=True, timeout=60, check=False)


def undefined(compose: dict) -> list[str]:
    """Every service, network or volume that is named but not defined."""
    services, faults = compose["services"], []
    for name, service in services.items():
        named_volumes = [v.split(":")[0] for v in service.get("volumes", []) if not v.startswith((".", "/"))]
        for kind, used, defined in (
            ("service", service.get("depends_on", {}), services),
            ("network", service.get("networks", []), compose.get("networks", {})),
            ("volume", named_volumes, compose.get("volumes", {})),
        ):
            faults += [f"{name}: {kind} {word}" for word in used if word not in defined]
    return faults


def test_the_compose_file_keeps_to_its_schema():
    done = tool("check-jsonschema", "--builtin-schema", "vendor.compose-spec", "docker-compose.yml")
    assert done.returncode == 0, done.stdout


def test_every_service_network_and_volume_that_is_named_is_defined():
    assert undefined(COMPOSE) == []


def test_an_undefined_reference_is_found():
    bad = {"services": {"web": {"depends_on": {"data": {}}, "networks": ["out"], "volumes": ["kept:/k", "./here:/h"]}}}
    assert undefined(bad) == ["web: service data", "web: network out", "web: volume kept"]


def test_the_dockerfile_has_no_finding():
    done = tool("hadolint", "Dockerfile")
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("secret", SECRETS)
def test_a_secret_comes_from_outside_and_must_be_there(secret):
    given = re.findall(rf"\$\{{{secret}([^}}]*)\}}", COMPOSE_TEXT)
    assert given
    assert set(given) == {":?"}


@pytest.mark.parametrize("name", ["web", "live"])
def test_the_probe_of_a_server_asks_whether_it_serves_and_not_whether_redis_lives(name):
    probe = " ".join(SERVICES[name]["healthcheck"]["test"])
    assert "/healthz" in probe
    assert "/readyz" not in probe


@pytest.mark.parametrize(
    "line",
    ["read_header 10s", "read_body 150s", "idle 2m", "request_buffers 256KiB", "max_size 256KiB", "max_size 1200KB"],
)
def test_the_proxy_waits_for_nobody_without_end_and_hands_on_whole_bodies(line):
    """256 KiB, the largest body of the API, take 128 s at 2 KB/s; a larger one is refused by the board in its words."""
    assert line in re.sub(r"\s+", " ", (PROJECT / "deploy" / "Caddyfile").read_text())


def test_redis_keeps_what_it_was_given():
    command = " ".join(SERVICES["redis"]["command"])
    assert "--maxmemory-policy noeviction" in command
    assert "--appendonly yes" in command


def test_only_the_proxy_is_reached_from_outside_and_only_web_processes_pool_connections():
    assert [name for name, service in SERVICES.items() if "ports" in service] == ["proxy"]
    assert {n for n, s in SERVICES.items() if "DATABASE_POOL" in s.get("environment", {})} == {"web", "live"}


def test_every_process_of_the_board_sees_the_same_seals():
    board = {name: service for name, service in SERVICES.items() if service.get("image") == "consult-board"}

    assert {"web", "live", "worker"} <= board.keys()
    assert {tuple(service["volumes"]) for service in board.values()} == {("seals:/seals",)}
    assert {service["environment"]["SEALS_FILE"] for service in board.values()} == {"/seals/journal.seals"}


def test_the_deployed_settings_pass_djangos_own_security_checks():
    plain = {name: value for name, value in os.environ.items() if name not in NOT_INHERITED}
    deployed = {**plain, "HTTPS": "true", "SECRET_KEY": os.urandom(40).hex(), "ALLOWED_HOSTS": "board.example"}
    command = [sys.executable, "manage.py", "check", "--deploy", "--tag", "security", "--fail-level", "WARNING"]
    done = subprocess.run(command, cwd=PROJECT, env=deployed, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
