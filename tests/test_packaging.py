"""What a fresh clone installs: exact versions, no addresses, nothing but Python and make needed."""

from __future__ import annotations

import re
import shutil
import subprocess
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

from ingest.version import VERSION

ROOT = Path(__file__).resolve().parents[1]
LOCKS = ("requirements.lock", "requirements-dev.lock")
SCRIPTS = ("Makefile", ".ci/run", ".ci/setup", ".ci/test_tools", ".ci/lock")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def locked(name: str) -> dict[str, str]:
    lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
    pins = [line.split(";")[0].strip() for line in lines if line.strip() and not line.startswith("#")]
    for pin in pins:
        assert re.fullmatch(r"[A-Za-z0-9_.-]+==[A-Za-z0-9_.+!]+", pin), f"{name}: {pin!r} is not exact"
    return dict(pin.lower().split("==") for pin in pins)


def normal(requirement: str) -> str:
    return re.split(r"[<>=!~ \[;]", requirement)[0].lower().replace("_", "-")


@pytest.mark.parametrize("name", LOCKS)
def test_locks_hold_exact_versions_and_no_addresses(name: str) -> None:
    pins = locked(name)
    assert {normal(one) for one in PROJECT["dependencies"]} <= set(pins)
    assert "setuptools" in pins  # the project itself is built with it, without asking a registry
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "//" not in text
    assert "--" not in text


def test_the_dev_lock_is_the_run_lock_and_more() -> None:
    run, dev = (locked(name) for name in LOCKS)
    assert run.items() <= dev.items()
    assert {normal(one) for one in PROJECT["optional-dependencies"]["dev"]} <= set(dev)


@pytest.mark.parametrize("name", [*LOCKS, *SCRIPTS])
def test_no_place_of_one_machine_is_named(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.search(r"https?:|/home/|/root/|/Users/|/opt/", text)


def test_one_version() -> None:
    assert version("flatfoot") == VERSION


@pytest.mark.skipif(shutil.which("sh") is None, reason="no POSIX shell here: make is not used either")
@pytest.mark.parametrize("name", [name for name in SCRIPTS if name.startswith(".ci")])
def test_scripts_are_sound(name: str) -> None:
    shell = "bash" if name == ".ci/run" else "sh"
    subprocess.run([shell, "-n", ROOT / name], check=True, timeout=30)
