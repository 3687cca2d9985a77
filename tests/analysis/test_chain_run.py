"""The chain over the travel, against the same thing walked through point by point."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.chain_run import ChainLayout, chain_run, sprocket_radius_mm, taut_length_mm
from ingest.errors import CannotAnswer, UsageError

LAYOUT = ChainLayout(
    sprocket_mm=(75.0, 12.0),
    swingarm_pivot_mm=(0.0, 0.0),
    axle_mm=(-560.0, -150.0),
    at_travel_mm=0.0,
    front_teeth=16,
    rear_teeth=42,
)


def walked(up_mm: np.ndarray) -> np.ndarray:
    """Distance from sprocket to axle, the swingarm turned about its pivot."""
    length = math.hypot(560.0, 150.0)
    height = -150.0 + up_mm
    return np.hypot(75.0 + np.sqrt(length**2 - height**2), 12.0 - height)


def test_tightest_where_the_sprockets_are_furthest_apart() -> None:
    found = chain_run(LAYOUT, parked_travel_mm=20.0, full_travel_mm=220.0)
    travel = np.linspace(0.0, 220.0, 220001)
    apart = walked(travel)
    assert found.tightest_travel_mm == pytest.approx(travel[apart.argmax()], abs=0.5)


def test_lowering_brings_the_parked_bike_nearer_to_the_tightest_place() -> None:
    before = chain_run(LAYOUT, parked_travel_mm=20.0, full_travel_mm=220.0)
    after = chain_run(LAYOUT, parked_travel_mm=20.0, full_travel_mm=220.0, rear_axle_up_mm=30.0)
    assert after.tightest_travel_mm == pytest.approx(before.tightest_travel_mm - 30.0)
    assert after.slack_to_set_mm < before.slack_to_set_mm


def test_the_slack_to_set_leaves_the_least_slack() -> None:
    """The chain so set, walked to where it is tightest: its lower run there has the spare of 10 mm."""
    set_mm = chain_run(LAYOUT, parked_travel_mm=20.0, full_travel_mm=220.0).slack_to_set_mm
    parked, tight = float(walked(np.array(20.0))), float(walked(np.linspace(0.0, 220.0, 220001)).max())
    small, large = sprocket_radius_mm(16), sprocket_radius_mm(42)
    runs = [math.sqrt(apart**2 - (large - small) ** 2) for apart in (parked, tight)]
    spare = 2 * math.hypot(runs[0] / 2, set_mm / 2) - runs[0]
    spare -= taut_length_mm(LAYOUT, tight) - taut_length_mm(LAYOUT, parked)
    assert spare == pytest.approx(2 * math.hypot(runs[1] / 2, 10.0 / 2) - runs[1], abs=1e-6)


def test_a_line_beyond_the_travel_leaves_full_bump_tightest() -> None:
    found = chain_run(LAYOUT, parked_travel_mm=20.0, full_travel_mm=40.0)
    assert found.tightest_travel_mm == 40.0


def test_taut_chain_by_its_arcs_and_runs() -> None:
    """Equal sprockets: two straight runs and one whole circle."""
    equal = replace(LAYOUT, rear_teeth=16)
    assert taut_length_mm(equal, 600.0) == pytest.approx(1200.0 + 2 * math.pi * sprocket_radius_mm(16))
    # Unequal ones: the runs touch both circles; length of arcs and runs from the angle between them.
    small, large = sprocket_radius_mm(16), sprocket_radius_mm(42)
    half = math.acos((large - small) / 600.0)
    by_arcs = 2 * (600.0 * math.sin(half) + (math.pi - half) * large + half * small)
    assert taut_length_mm(LAYOUT, 600.0) == pytest.approx(by_arcs)


def test_what_makes_no_chain_drive() -> None:
    with pytest.raises(UsageError, match="six teeth or more"):
        chain_run(replace(LAYOUT, front_teeth=3), parked_travel_mm=20.0, full_travel_mm=220.0)
    with pytest.raises(UsageError, match="the axle lies behind the pivot and the sprocket ahead of it"):
        chain_run(replace(LAYOUT, sprocket_mm=(-10.0, 0.0)), parked_travel_mm=20.0, full_travel_mm=220.0)
    with pytest.raises(CannotAnswer, match="cannot take its axle"):
        chain_run(LAYOUT, parked_travel_mm=20.0, full_travel_mm=220.0, rear_axle_up_mm=900.0)
