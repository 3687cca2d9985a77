from __future__ import annotations

import numpy as np
import pytest

from analysis.road import JUMP_FALL_M, Feature, Road, Shape, road_of_class
from ingest.errors import UsageError

ALONG_M = np.arange(0.0, 300.0, 0.01)


def test_same_seed_same_road_and_another_seed_another() -> None:
    first, again, other = (road_of_class("C", seed=seed).height_m(ALONG_M) for seed in (5, 5, 6))
    assert np.array_equal(first, again)
    assert np.abs(first - other).max() > 0.01


def test_flat_before_the_start_and_rising_to_full_roughness() -> None:
    road = road_of_class("D", seed=2)
    assert not road.height_m(np.linspace(-20.0, 0.0, 50)).any()
    gentle = Road(gd_n0_m3=road.gd_n0_m3, seed=2, lead_in_m=0.0).height_m(ALONG_M)
    ours = road.height_m(ALONG_M)
    halfway = ALONG_M.searchsorted(5.0)
    assert ours[halfway] == pytest.approx(0.5 * gentle[halfway])
    assert np.array_equal(ours[ALONG_M > 10.0], gentle[ALONG_M > 10.0])


def test_road_repeats_after_its_period() -> None:
    road = Road(gd_n0_m3=256e-6, seed=1, period_m=500.0, lead_in_m=0.0)
    assert road.height_m(ALONG_M) == pytest.approx(road.height_m(ALONG_M + 500.0), abs=1e-12)


def test_bump_hole_and_whoops_have_their_heights() -> None:
    features = (
        Feature(at_m=50.0, length_m=2.0, height_m=0.08),
        Feature(at_m=100.0, length_m=1.0, height_m=-0.05),
        Feature(at_m=150.0, length_m=4.0, height_m=0.2, repeats=3),
    )
    road = Road(features=features)
    tops = road.height_m(np.array([49.9, 50.0, 51.0, 52.0, 100.5, 152.0, 154.0, 156.0, 160.0, 162.5]))
    assert tops == pytest.approx([0, 0, 0.08, 0, -0.05, 0.2, 0, 0.2, 0.2, 0], abs=1e-9)


def test_jump_rises_to_its_lip_and_falls_away() -> None:
    road = Road(features=(Feature(shape=Shape.JUMP, at_m=20.0, length_m=6.0, height_m=0.3),))
    height = road.height_m(np.array([20.0, 23.0, 26.0, 26.0 + JUMP_FALL_M / 2, 26.0 + JUMP_FALL_M, 40.0]))
    assert height == pytest.approx([0.0, 0.075, 0.3, 0.15, 0.0, 0.0], abs=1e-9)


def test_unknown_class_and_empty_band_are_refused() -> None:
    with pytest.raises(UsageError, match="no road class 'Z': give one of A to H"):
        road_of_class("Z", seed=0)
    with pytest.raises(UsageError, match="the band 3 to 1 cycle/m is empty"):
        Road(gd_n0_m3=1e-5, low_cycle_per_m=3, high_cycle_per_m=1).height_m(ALONG_M)
