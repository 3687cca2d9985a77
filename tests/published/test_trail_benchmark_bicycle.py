"""Trail identity and steering geometry against a published bicycle and numbers derived for this check.

Benchmark bicycle: J. P. Meijaard, J. M. Papadopoulos, A. Ruina, A. L. Schwab (2007), Linearized dynamics
equations for the balance and steer of a bicycle: a benchmark and review, Proc. R. Soc. A 463:1955-1982,
Table 1. Its offset is not in the table: d = rF sin(lam) - c cos(lam).

The motorcycle: formulas of V. Cossalter, Motorcycle Dynamics, 2nd ed. (2006), chapter 1, from memory, not
checked against the text; the numbers come from an independent vector construction and a numerical solver.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.geometry import geometry_change, geometry_of
from analysis.rigid_bike import normal_trail_mm, trail_mm
from ingest.records import Bike

LAM_DEG = 18.0  # steer axis tilt, pi/10 rad, Table 1
R_FRONT_MM = 350.0  # Table 1: rF = 0.35 m
TRAIL_MM = 80.0  # Table 1: c = 0.08 m
OFFSET_MM = 32.0714267276193  # derived from the three above
NORMAL_TRAIL_MM = 76.08452130361229  # c cos(lam)


def test_trail_of_the_benchmark_bicycle() -> None:
    assert trail_mm(LAM_DEG, OFFSET_MM, R_FRONT_MM) == pytest.approx(TRAIL_MM, abs=1e-9)


def test_normal_trail_of_the_benchmark_bicycle() -> None:
    assert normal_trail_mm(LAM_DEG, OFFSET_MM, R_FRONT_MM) == pytest.approx(NORMAL_TRAIL_MM, abs=1e-9)


def test_identity_of_trail_and_normal_trail() -> None:
    trail = trail_mm(LAM_DEG, OFFSET_MM, R_FRONT_MM)
    assert trail * math.cos(math.radians(LAM_DEG)) == pytest.approx(NORMAL_TRAIL_MM, abs=1e-9)


MOTORCYCLE = Bike(
    name="textbook motorcycle",
    rake_deg=26.0,
    fork_offset_mm=35.0,
    wheelbase_mm=1450.0,
    front_wheel_radius_mm=305.0,
    rear_wheel_radius_mm=315.0,
)


@pytest.mark.parametrize(
    ("move", "rake_deg", "trail", "wheelbase"),
    [
        ({}, 26.0, 109.8173715959561, 1450.0),
        ({"fork_axis_mm": 20.0}, 25.28538024667954, 105.36902548698227, 1441.219954020799),
        ({"fork_axis_mm": 12.7}, 25.54721495686212, 106.99341682085271, 1444.398763145413),
        ({"rear_axle_up_mm": 25.0}, 26.987701697264587, 116.04568425002529, 1450.38787915509),
        (
            {"fork_axis_mm": 20.0, "rear_axle_up_mm": 25.0},
            26.27923486706427,
            111.56855941160056,
            1441.298429133056,
        ),
    ],
)
def test_moved_axles(move: dict[str, float], rake_deg: float, trail: float, wheelbase: float) -> None:
    found = geometry_change(MOTORCYCLE, **move)
    assert found.rake_deg == pytest.approx(rake_deg, abs=1e-8)
    assert found.trail_mm == pytest.approx(trail, abs=1e-6)
    assert found.wheelbase_mm == pytest.approx(wheelbase, abs=1e-6)
    assert found.pitch_deg == pytest.approx(26.0 - rake_deg, abs=1e-8)


def test_first_order_rule_of_the_rake() -> None:
    # d(rake) ~ -h cos(rake) / wheelbase: -0.7103 degrees for 20 mm, good to about 0.01.
    found = geometry_change(MOTORCYCLE, fork_axis_mm=20.0)
    assert found.rake_deg - 26.0 == pytest.approx(-0.7103049035093543, abs=0.01)


def test_equal_radii_leave_the_base_bike_alone() -> None:
    level = replace(MOTORCYCLE, rear_wheel_radius_mm=305.0)
    assert geometry_of(level).pitch_deg == pytest.approx(0.0, abs=1e-12)
