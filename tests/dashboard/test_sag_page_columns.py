"""The table of the sag page: columns for rolling and feet-down sag where somebody marked them, else none."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.results import Quantity
from analysis.sag import check_sag
from dashboard.pages import sag as page
from dashboard.parts import Look
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.log import Kind, Log

NAMES = ("topped out", "unladen, from above", "rider, from above")


def headings(table: object) -> list[str]:
    said = json.loads(json.dumps(table, default=lambda part: part.to_plotly_json()))
    found: list[str] = []

    def walk(part: object) -> None:
        if isinstance(part, dict):
            if part.get("type") == "Th":
                found.append(str(part["props"].get("children")))
            walk(list(part.values()))
        elif isinstance(part, Sequence) and not isinstance(part, str):
            for one in part:
                walk(one)

    walk(said)
    return found


@pytest.mark.parametrize("rolling", [False, True])
def test_columns(make_log: Callable[..., Log], rolling: bool) -> None:
    places = np.repeat([0.0, 30.0, 60.0], 300)
    marks = [(3.0 * k + 1.5, name) for k, name in enumerate(NAMES)]
    check = check_sag(make_log(places, places, rate_hz=100.0, kind=Kind.SAG, marks=marks))
    assert check.front is not None
    if rolling:
        sag = Quantity(value=61.0, expanded_uncertainty=1.2, coverage_factor=2.0)
        check = replace(check, front=replace(check.front, rolling_sag_mm=sag))
    heads = headings(page._table(check, Look(units=Units.MM, theme=Theme.LIGHT)))
    assert ("rolling mm" in heads) is rolling
    assert "feet down mm" not in heads
    assert "rider mm" in heads
