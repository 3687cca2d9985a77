"""Ride height of rides made by hand; its coverage is in ``tests/evidence/test_front_and_rear.py``."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.motion import EndMotion, end_motion
from analysis.results import Quantity
from analysis.ride_height import ride_height
from ingest.log import Log
from ingest.records import End

RATE_HZ = 500.0


@pytest.fixture
def front(make_log: Callable[..., Log]) -> Callable[[np.ndarray], EndMotion]:
    def motion(travel: np.ndarray) -> EndMotion:
        found = end_motion(make_log(travel, travel, rate_hz=RATE_HZ), End.FRONT)
        assert found is not None
        return found

    return motion


def sections(heights_mm: list[float], swings_mm: list[float], each_s: float = 12.0) -> np.ndarray:
    """Sections of one height and one wave of 6 Hz each, with a slow body wave that does not differ."""
    time = np.arange(0.0, each_s, 1 / RATE_HZ)
    body = 1.5 * np.sin(2 * np.pi * 1.7 * time)
    parts = [
        height + body + swing * np.sin(2 * np.pi * 6 * time)
        for height, swing in zip(heights_mm, swings_mm, strict=True)
    ]
    return np.concatenate(parts)


ROUGH = [1.0, 6.0] * 4


@pytest.mark.parametrize(
    ("rough_mm", "word"), [(75.0, "packs down"), (55.0, "jacks up"), (65.5, "holds its height")]
)
def test_deeper_or_higher_where_it_is_rough(
    front: Callable[[np.ndarray], EndMotion], rough_mm: float, word: str
) -> None:
    found = ride_height(front(sections([65.0, rough_mm] * 4, ROUGH)), 230.0, None)
    assert found.rough_word == word
    assert found.smooth_mm == pytest.approx(65.0, abs=0.2)
    assert found.rough_mm == pytest.approx(rough_mm, abs=0.2)
    assert found.rough_change_mm is not None
    assert found.rough_change_mm.value == pytest.approx(rough_mm - 65.0, abs=0.3)


def test_one_road_throughout_says_nothing_of_rough_and_smooth(
    front: Callable[[np.ndarray], EndMotion],
) -> None:
    found = ride_height(front(sections([65.0, 75.0] * 4, [4.0, 4.5] * 4)), 230.0, None)
    assert found.rough_word == "cannot tell"


def test_starts_and_stops_do_not_count_as_smooth(front: Callable[[np.ndarray], EndMotion]) -> None:
    """A third of the ride stands, far deeper than it rides: without care that would be the smooth third."""
    stand = np.full(round(30 * RATE_HZ), 90.0)
    ride = sections([65.0, 65.0] * 4, ROUGH)
    found = ride_height(front(np.concatenate([ride, stand])), 230.0, None)
    assert found.smooth_mm == pytest.approx(65.0, abs=0.2)
    assert found.rough_word == "holds its height"


def test_what_is_left_and_what_the_sag_was(front: Callable[[np.ndarray], EndMotion]) -> None:
    travel = sections([65.0, 75.0] * 4, ROUGH)
    sag = Quantity(value=60.0, expanded_uncertainty=1.5, coverage_factor=2.0)
    found = ride_height(front(travel), 225.0, sag)
    assert found.mean_mm == pytest.approx(70.0, abs=0.1)
    assert found.left_mm == pytest.approx(155.0, abs=0.1)
    assert found.left_at_deepest_mm == pytest.approx(225.0 - travel.max(), abs=0.1)
    assert found.interval_mm is not None
    assert found.against_sag_mm is not None
    half = found.interval_mm[1] - found.mean_mm
    assert found.mean_mm - found.interval_mm[0] == pytest.approx(half)
    assert found.against_sag_mm.value == pytest.approx(10.0, abs=0.1)
    assert found.against_sag_mm.expanded_uncertainty == pytest.approx(np.hypot(1.5, half))
    assert 1.96 < found.against_sag_mm.coverage_factor < 2.45


def test_a_slow_swing_widens_the_interval(front: Callable[[np.ndarray], EndMotion]) -> None:
    time = np.arange(0.0, 60.0, 1 / RATE_HZ)
    fast = 65 + 8 * np.sin(2 * np.pi * 2.03 * time)
    slow = fast + 8 * np.sin(2 * np.pi * time / 45)
    halves = []
    for travel in (fast, slow):
        found = ride_height(front(travel), 230.0, None)
        assert found.interval_mm is not None
        halves.append(found.interval_mm[1] - found.mean_mm)
    assert halves[0] < 0.5
    assert halves[1] > 5.0


def test_a_few_seconds_have_no_interval(front: Callable[[np.ndarray], EndMotion]) -> None:
    sag = Quantity(value=60.0, expanded_uncertainty=1.5, coverage_factor=2.0)
    found = ride_height(front(np.linspace(60, 70, round(4 * RATE_HZ))), 230.0, sag)
    assert found.mean_mm == pytest.approx(65.0)
    assert found.interval_mm is None
    assert found.against_sag_mm is None
    assert found.rough_change_mm is None
    assert found.rough_word == "cannot tell"


def test_masked_stretches_are_left_out(make_log: Callable[..., Log]) -> None:
    travel = sections([65.0, 75.0] * 4, ROUGH)
    travel[5000:9000] = 900.0  # no wheel can be there: masked
    motion = end_motion(make_log(travel, travel, rate_hz=RATE_HZ), End.FRONT)
    assert motion is not None
    found = ride_height(motion, 230.0, None)
    assert found.rough_change_mm is not None
    assert found.rough_change_mm.value == pytest.approx(10.0, abs=0.3)
