"""Stands: length for a lean, lean for a length, and what happens to a stand nobody shortens."""

from __future__ import annotations

import math

import pytest

from analysis.stand_length import (
    SideStand,
    centre_stand_shorter_mm,
    lean_on_stand_deg,
    side_stand_angle_deg,
    side_stand_fit,
    side_stand_length_mm,
)
from ingest.errors import CannotAnswer, UsageError

THIN = SideStand(pivot_height_mm=300.0, pivot_out_mm=120.0, angle_deg=20.0)
ROUND = SideStand(pivot_height_mm=300.0, pivot_out_mm=120.0, angle_deg=20.0, crown_mm=65.0)


@pytest.mark.parametrize("stand", [THIN, ROUND])
@pytest.mark.parametrize("lean", [2.0, 9.0, 14.0])
def test_there_and_back(stand: SideStand, lean: float) -> None:
    assert lean_on_stand_deg(stand, side_stand_length_mm(stand, lean)) == pytest.approx(lean)


@pytest.mark.parametrize("stand", [THIN, ROUND])
def test_the_angle_from_length_and_lean(stand: SideStand) -> None:
    length = side_stand_length_mm(stand, 11.0)
    found = side_stand_angle_deg(300.0, 120.0, length, 11.0, crown_mm=stand.crown_mm)
    assert found == pytest.approx(20.0)
    with pytest.raises(CannotAnswer, match="a leg of 150 mm does not fit a pivot 300 mm up and 120 mm out"):
        side_stand_angle_deg(300.0, 120.0, 150.0, 11.0)


@pytest.mark.parametrize("stand", [THIN, ROUND])
def test_the_foot_is_on_the_ground(stand: SideStand) -> None:
    length, lean = side_stand_length_mm(stand, 11.0), math.radians(11.0)
    out = stand.pivot_out_mm + length * math.sin(math.radians(20.0))
    up = stand.pivot_height_mm - length * math.cos(math.radians(20.0))
    above = stand.crown_mm + (up - stand.crown_mm) * math.cos(lean) - out * math.sin(lean)
    assert above == pytest.approx(0.0, abs=1e-9)


def test_a_stand_for_a_lower_bike() -> None:
    fit = side_stand_fit(THIN, 11.0, 30.0)
    assert fit.length_after_mm == pytest.approx(
        side_stand_length_mm(SideStand(pivot_height_mm=270.0, pivot_out_mm=120.0, angle_deg=20.0), 11.0)
    )
    # Common practice, no source: 0.9 to 1.05 mm of stand for each mm of lowering at its pivot.
    assert 0.9 < fit.shorter_mm / 30.0 < 1.05
    assert 0.0 < fit.lean_unshortened_deg < 8.0
    assert fit.too_upright
    assert not side_stand_fit(THIN, 11.0, 5.0).too_upright


def test_far_enough_down_it_leans_the_other_way() -> None:
    assert side_stand_fit(THIN, 11.0, 60.0).lean_unshortened_deg < 0.0


def test_no_leg_is_refused() -> None:
    with pytest.raises(UsageError, match="leaves no leg at a lean of 70°"):
        side_stand_length_mm(THIN, 70.0)
    with pytest.raises(UsageError, match=r"lies within tyres of crown 400 mm"):
        lean_on_stand_deg(
            SideStand(pivot_height_mm=600.0, pivot_out_mm=100.0, angle_deg=0.0, crown_mm=400.0), 200.0
        )


def test_a_centre_stand_follows_its_pivot() -> None:
    assert centre_stand_shorter_mm(24.0) == 24.0
    assert centre_stand_shorter_mm(-5.0) == 0.0
