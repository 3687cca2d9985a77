from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.common_times import means_at_times_of
from analysis.motion import EndMotion, end_motion
from ingest.log import Channel, Kind, Log, Segment, Unit
from ingest.records import Bike, End

RATE_HZ = 500.0


def both_ends(bike: Bike, *starts_s: float, skew_s: float, rows: int = 400) -> tuple[EndMotion, EndMotion]:
    """A fork and a shock that do the same; the rear is read ``skew_s`` after the front."""
    segments = []
    for start_s in starts_s:
        t = start_s + np.arange(rows) / RATE_HZ
        segments.append(
            Segment(
                start_s=start_s, dt_s=1 / RATE_HZ, values=np.column_stack([motion(t), motion(t + skew_s)])
            )
        )
    log = Log(
        id="t",
        kind=Kind.RIDE,
        started="",
        bike=bike,
        channels=(
            Channel(name="front_mm", unit=Unit.WHEEL_MM),
            Channel(name="rear_mm", unit=Unit.WHEEL_MM, skew_s=skew_s),
        ),
        segments=tuple(segments),
    )
    front, rear = end_motion(log, End.FRONT), end_motion(log, End.REAR)
    assert front is not None
    assert rear is not None
    return front, rear


def motion(t: np.ndarray) -> np.ndarray:
    return 100 + 40 * np.sin(2 * np.pi * 3 * t)


@pytest.mark.parametrize("per", [1, 5])
@pytest.mark.parametrize("skew_s", [0.0, 0.0004, -0.0007, 0.002, 0.0051])
def test_the_same_motion_comes_out_the_same_whatever_the_skew(bike: Bike, skew_s: float, per: int) -> None:
    front, rear = both_ends(bike, 0.0, 2.0, skew_s=skew_s)
    for ahead, behind in zip(front.segments, rear.segments, strict=True):
        front_mm = means_at_times_of(ahead.start_s, ahead, per)
        rear_mm = means_at_times_of(ahead.start_s, behind, per)
        known = ~np.isnan(rear_mm)
        assert rear_mm.shape == front_mm.shape == (400 // per,)
        assert 0 <= rear_mm.size - known.sum() <= 3
        # A piece at the very end, of which the rear has only a part, is not the mean of the same moments.
        whole = known.copy()
        whole[[0, -1]] = per == 1 and known[[0, -1]]
        # A straight line between samples of a 3 Hz sine is off by w² A dt² / 8 at most.
        bound = (2 * np.pi * 3) ** 2 * 40 * 0.002**2 / 8
        np.testing.assert_allclose(rear_mm[whole], front_mm[whole], atol=bound + 1e-4)


def test_not_moving_the_rear_would_show(bike: Bike) -> None:
    """The check of the check: the raw difference is what the skew makes of 750 mm/s."""
    front, rear = both_ends(bike, 0.0, skew_s=0.001)
    raw = rear.segments[0].travel_mm - front.segments[0].travel_mm
    assert np.abs(raw).max() == pytest.approx(2 * np.pi * 3 * 40 * 0.001, rel=0.01)


def test_masked_samples_stay_masked_and_nothing_crosses_a_gap(bike: Bike) -> None:
    front, rear = both_ends(bike, 0.0, 5.0, skew_s=0.0004)
    travel = rear.segments[0].travel_mm.copy()
    travel[100:103] = np.nan
    parts = (replace(rear.segments[0], travel_mm=travel), rear.segments[1])
    masked = replace(rear, segments=parts)
    first, second = (
        means_at_times_of(ahead.start_s, behind, 1)
        for ahead, behind in zip(front.segments, masked.segments, strict=True)
    )
    assert np.flatnonzero(np.isnan(first)).tolist() == [0, 100, 101, 102, 103]
    assert np.flatnonzero(np.isnan(second)).tolist() == [0]
