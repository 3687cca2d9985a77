from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.kinematics import WheelTravel
from analysis.motion import end_motion
from analysis.ride import summarise_ride
from analysis.shaft_speed import motion_ratio_at, motion_ratios, shaft_speeds
from analysis.speed import differentiator
from ingest.log import Log
from ingest.records import Bike, End, Leverage, Suspension

TABLE = Leverage(table=((0, 0), (55, 21), (110, 43.5), (165, 67.3), (220, 92)))
T = np.arange(0, 30, 0.001)


def test_the_motion_ratio_is_the_slope_of_the_stroke() -> None:
    """Against differences of the stroke itself; the table's end slopes carry on past both ends."""
    ratios = motion_ratios(TABLE, 220.0)
    stroke = WheelTravel(TABLE).stroke_mm
    for wheel in (20.0, 110.25, 190.0):
        slope = (stroke(wheel + 0.5) - stroke(wheel - 0.5)) / 1.0
        assert motion_ratio_at(ratios, wheel) == pytest.approx(float(slope), rel=1e-3)
    assert motion_ratio_at(ratios, 229.0) == pytest.approx(ratios[440])
    assert motion_ratios(Leverage(ratio=2.5), 220.0) == pytest.approx(0.4)


def test_shaft_speed_is_the_speed_of_the_stroke(make_log: Callable[..., Log]) -> None:
    """Wheel speed times motion ratio, against the differentiated stroke."""
    travel = 110 + 80 * np.sin(2 * np.pi * 1.5 * T)
    travel[5000] = np.nan
    motion = end_motion(make_log(travel, travel), End.REAR)
    assert motion is not None
    (got,) = shaft_speeds(motion, motion_ratios(TABLE, 220.0))
    expected = differentiator(0.001).speed(WheelTravel(TABLE).stroke_mm(travel))[::2]
    assert (np.isnan(got) == np.isnan(expected)).all()
    np.testing.assert_allclose(got[~np.isnan(got)], expected[~np.isnan(got)], atol=2.0)


def test_a_fork_moves_as_its_wheel_and_a_linkage_by_its_leverage(make_log: Callable[..., Log]) -> None:
    travel = 110 + 40 * np.sin(2 * np.pi * 1.5 * T)
    found = summarise_ride(make_log(travel, travel))
    for ride in (found.front, found.rear):
        assert ride is not None
        assert ride.shaft is not None
        assert ride.shaft.compression is not None
        assert ride.compression_speed_mm_s is not None
        ratio = ride.compression_speed_mm_s.p95 / ride.shaft.compression.p95
        assert ratio == pytest.approx(ride.shaft.leverage_at_ride, rel=0.02)
    assert found.front is not None
    assert found.front.shaft is not None
    assert found.front.shaft.leverage_at_ride == 1.0
    assert found.front.shaft.compression == found.front.compression_speed_mm_s
    assert found.rear is not None
    assert found.rear.shaft is not None
    assert found.rear.shaft.leverage_at_ride == pytest.approx(2.38, abs=0.06)


def test_without_a_leverage_the_shaft_of_a_direct_rear_is_not_known(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    travel = 110 + 40 * np.sin(2 * np.pi * 1.5 * T)
    direct = replace(bike, rear=Suspension(kind="direct", travel_mm=220))
    found = summarise_ride(make_log(travel, travel, bike=direct)).rear
    assert found is not None
    assert found.shaft is None
