"""The examples for a server: they parse, and name only what exists."""

from __future__ import annotations

import re
import shlex
from importlib import import_module
from pathlib import Path

import pytest
import yaml
from django.core.management import get_commands

from library.config.celery import app

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / ".deploy"
UNITS = sorted((DEPLOY / "systemd").glob("*.service"))


def lines_of(unit: Path, key: str) -> list[str]:
    return re.findall(rf"^{key}=(.*)$", unit.read_text(), re.MULTILINE)


def compose() -> dict:
    return yaml.safe_load((DEPLOY / "compose.yaml").read_text())


def commands() -> list[list[str]]:
    """Every command line of the examples, the program without its folder."""
    found = [shlex.split(line) for unit in UNITS for line in lines_of(unit, "ExecStart")]
    for service in compose()["services"].values():
        command = service.get("command", [])
        if command[:2] == ["sh", "-c"]:
            found += [shlex.split(part) for part in command[2].split("&&")]
        elif command:
            found.append(command)
    image = re.search(r"^CMD (\[.*\])$", (DEPLOY / "Dockerfile").read_text(), re.MULTILINE)
    found.append(yaml.safe_load(image[1]))
    return [[Path(program).name, *rest] for program, *rest in found]


def test_every_command_names_what_there_is():
    for program, *rest in commands():
        if program == "gunicorn":
            assert import_module(rest[0]).application
        elif program == "celery":
            assert rest[:2] == ["-A", "library.config"]
            assert rest[2] in {"worker", "beat"}
        elif program == "python":
            assert (ROOT / rest[0]).exists()
            assert rest[1] in get_commands()
        else:
            assert program == "redis-server"


@pytest.mark.parametrize("wanted", ["web", "worker", "beat", "migrate"])
def test_both_examples_run_every_part_and_start_it_again(wanted):
    services = compose()["services"]
    unit = (DEPLOY / "systemd" / f"sowback-{wanted}.service").read_text()

    assert services[wanted]["restart"] == ("no" if wanted == "migrate" else "unless-stopped")
    assert ("Restart=always" in unit) == (wanted != "migrate")
    assert f"sowback-{wanted}.service" in (DEPLOY / "systemd/sowback.target").read_text()


def test_every_setting_is_one_that_the_readme_explains():
    readme = (ROOT / "README.md").read_text()
    example = (DEPLOY / "sowback.env.example").read_text()
    named = set(re.findall(r"^#? ?([A-Z_]+)=", example, re.MULTILINE))
    named |= set(compose()["x-sowback"]["environment"])
    named |= {line.split("=")[0] for u in UNITS for line in lines_of(u, "Environment")}

    assert named
    assert {name for name in named if f"`{name}`" not in readme} == set()


def test_what_is_copied_into_the_image_is_there():
    for line in re.findall(r"^COPY (.*)$", (DEPLOY / "Dockerfile").read_text(), re.MULTILINE):
        *sources, _target = line.split()
        assert all((ROOT / source).exists() for source in sources)


def test_a_worker_waits_for_a_broker_that_stays_away_for_an_hour():
    """Celery's own default gives up after a hundred attempts, within the hour."""
    assert app.conf.broker_connection_max_retries is None
