"""Trail and normal trail against a published bicycle.

Benchmark bicycle: J. P. Meijaard, J. M. Papadopoulos, A. Ruina, A. L. Schwab (2007), Linearized dynamics
equations for the balance and steer of a bicycle: a benchmark and review, Proc. R. Soc. A 463:1955-1982,
Table 1. Its offset is not in the table: d = rF sin(lam) - c cos(lam).
"""

from __future__ import annotations

import math

import pytest

from analysis.rigid_bike import normal_trail_mm, trail_mm

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
