"""Arrows run one way: dashboard → analysis → ingest. Read from the source, so a lazy import counts too."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ALLOWED = {
    "ingest": {"ingest"},
    "analysis": {"analysis", "ingest"},
    "dashboard": {"dashboard", "analysis", "ingest"},
}
# The analysis is arrays in, results out: no ports, screens or files of logs.
NOT_IN_ANALYSIS = {"serial", "dash", "plotly", "flask", "pyarrow", "time", "socket", "os", "pathlib"}


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.add((node.module or "").split(".")[0])
    return names


MODULES = [path for package in ALLOWED for path in sorted((ROOT / package).rglob("*.py"))]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_arrows_run_one_way(path: Path) -> None:
    package = path.relative_to(ROOT).parts[0]
    ours = imported(path) & set(ALLOWED)
    assert ours <= ALLOWED[package]


@pytest.mark.parametrize("path", [p for p in MODULES if "analysis" in p.parts], ids=lambda p: p.name)
def test_analysis_touches_nothing_outside(path: Path) -> None:
    assert not imported(path) & NOT_IN_ANALYSIS


def test_only_the_port_module_knows_pyserial() -> None:
    users = {path.relative_to(ROOT).as_posix() for path in MODULES if "serial" in imported(path)}
    assert users <= {"ingest/port.py"}
