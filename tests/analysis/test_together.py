"""Several rides of one side taken together, and which end of the travel a shorter suspension lost."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.ride_results import Attitude, EndRide, Events, Exceedance, RideHeight, RideSummary, TravelEvent
from analysis.stop_stayed import full_bump_stayed, travel_sits_alike
from analysis.together import attitude_together, together
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import Bike, End, EndSetup, Setup

NOTHING = Exceedance(speed_mm_s=(), share=())
NEVER = Events(count=0, per_10_min=0.0, events=())


def height(mean_mm: float, half_mm: float | None) -> RideHeight:
    return RideHeight(
        mean_mm=mean_mm,
        interval_mm=None if half_mm is None else (mean_mm - half_mm, mean_mm + half_mm),
        against_sag_mm=None,
        smooth_mm=None,
        rough_mm=None,
        rough_change_mm=None,
        rough_word="cannot tell",
        left_mm=0.0,
        left_at_deepest_mm=0.0,
    )


def ride(
    mean_mm: float, deepest_mm: float, half_mm: float | None = 2.0, grades: tuple[str, ...] = ()
) -> EndRide:
    events = tuple(TravelEvent(t_s=1.0, peak_mm=deepest_mm, entry_speed_mm_s=None, grade=g) for g in grades)
    return EndRide(
        duration_s=150.0,
        samples=150_000,
        lost_samples=0,
        travel_mm=200.0,
        travel_used_mm=deepest_mm,
        travel_used_percent=deepest_mm / 2,
        mean_mm=mean_mm,
        p50_mm=mean_mm,
        p95_mm=mean_mm + 50,
        p99_mm=mean_mm + 80,
        bottoming=Events(count=0, per_10_min=0.0, events=events),
        topping=NEVER,
        compression_speed_mm_s=None,
        rebound_speed_mm_s=None,
        bandwidth_hz=50.0,
        grains_mm=(),
        compression_exceedance=NOTHING,
        rebound_exceedance=NOTHING,
        height=height(mean_mm, half_mm),
    )


def test_depths_are_means_the_deepest_is_of_all_and_grades_are_in_ten_minutes() -> None:
    found = together([ride(60, 180, grades=("rubber", "hard stop")), ride(64, 195, grades=("rubber",))])
    assert found is not None
    assert (found.mean_mm, found.p95_mm, found.deepest_mm) == (62, 112, 195)
    assert (found.left_mm, found.left_at_deepest_mm, found.left_at_deepest_percent) == (138, 5, 2.5)
    # 300 s ridden: two events are four in ten minutes
    assert found.graded_per_10_min == {"rubber": 4, "near full": 0, "hard stop": 2}
    assert together([]) is None


def test_travel_left_ends_where_a_stop_was_found() -> None:
    found = together([replace(ride(60, 192), found_travel_mm=190.0)])
    assert found is not None
    assert (found.left_mm, found.left_at_deepest_mm, found.left_at_deepest_percent) == (130, -2, -1)


def test_the_doubt_of_the_mean_is_that_of_the_rides_or_of_their_scatter_whichever_is_wider() -> None:
    two = together([ride(60, 180), ride(80, 180)])
    assert two is not None
    assert two.doubt_mm == pytest.approx(2 / math.sqrt(2))  # two runs say nothing of their scatter
    three = together([ride(60, 180), ride(62, 180), ride(64, 180)])
    assert three is not None
    # sd 2 of three: t for 2 degrees of freedom, 97.5 %, is 4.303 (NIST/SEMATECH e-Handbook, 1.3.6.7.2)
    assert three.doubt_mm == pytest.approx(4.303 * 2 / math.sqrt(3), abs=0.001)
    alike = together([ride(60, 180)] * 3)
    assert alike is not None
    assert alike.doubt_mm == pytest.approx(2 / math.sqrt(3))
    unknown = together([ride(60, 180, None), ride(62, 180)])
    assert unknown is not None
    assert unknown.doubt_mm is None


def test_the_attitude_is_told_where_the_rides_agree() -> None:
    level = Attitude(
        front_percent=30.0, rear_percent=32.0, level_word="level", pitch_deg=None, pitch_p5_deg=None,
        pitch_p95_deg=None, rake_deg=26.0, trail_mm=None, measured_state="topped out", dives=(), squats=(),
    )  # fmt: skip
    lower = replace(level, front_percent=34.0, level_word="front lower", rake_deg=25.0)
    rides = [RideSummary(log_id="a", front=None, rear=None, attitude=one) for one in (level, lower, None)]
    both = attitude_together(rides)
    assert both is not None
    assert (both.front_percent, both.rear_percent, both.rake_deg, both.trail_mm) == (32, 32, 25.5, None)
    assert both.level_word == "cannot tell"
    one = attitude_together(rides[:1])
    assert one is not None
    assert one.level_word == "level"
    assert attitude_together(rides[2:]) is None


def counted(bike: Bike, front_zero: float | None, travel_mm: float) -> Log:
    """A log of two sensors, the fork with that much travel, topped out at that count."""
    return Log(
        id="a",
        kind=Kind.RIDE,
        started="",
        bike=bike,
        channels=(Channel(name="ch0"), Channel(name="ch1")),
        segments=(Segment(start_s=0.0, dt_s=1e-3, values=np.zeros((2, 2), np.uint16)),),
        setup=Setup(name="s", front=EndSetup(travel_mm=travel_mm)),
        zeros={} if front_zero is None else {End.FRONT: front_zero, End.REAR: 88.0},
    )


def test_a_spacer_keeps_full_bump_where_it_was(bike) -> None:
    per_mm = (921 - 102) / 230
    stock = counted(bike, 102.0, 230.0)
    for inwards_mm, stayed in ((25.0, True), (23.0, True), (0.0, False), (12.0, False)):
        spaced = counted(bike, 102.0 + inwards_mm * per_mm, 205.0)
        assert full_bump_stayed(stock, spaced, End.FRONT) is stayed, inwards_mm
    assert not full_bump_stayed(stock, stock, End.FRONT)  # nothing was lost
    assert not full_bump_stayed(stock, counted(bike, None, 205.0), End.FRONT)
    assert not full_bump_stayed(stock, counted(bike, 191.0, 205.0), End.REAR)  # it follows the shock


def test_a_spring_leaves_the_travel_where_it_is_and_raised_tubes_do_not(bike) -> None:
    stock = counted(bike, 102.0, 230.0)

    def with_front(said: EndSetup) -> Log:
        return replace(stock, setup=Setup(name="other", front=said))

    assert travel_sits_alike(stock, with_front(EndSetup(spring_rate_n_mm=9.0, preload_mm=12.0)))
    assert not travel_sits_alike(stock, with_front(EndSetup(raised_in_clamps_mm=10.0)))
    assert not travel_sits_alike(stock, counted(bike, 102.0, 205.0))
