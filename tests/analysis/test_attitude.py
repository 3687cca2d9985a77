"""Front and rear together, on rides made by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.attitude import NOT_SAID, SlowEnd, attitude, slow_end
from analysis.geometry import geometry_change
from analysis.motion import end_motion
from analysis.ride import summarise_ride
from analysis.ride_results import Attitude
from ingest.chassis import Plates
from ingest.log import Log, Segment
from ingest.records import Bike, End, EndSetup, Setup

RATE_HZ = 200.0
TIME = np.arange(0.0, 60.0, 1 / RATE_HZ)
WAVE = 10.0 * np.sin(2 * np.pi * 1.7 * TIME)


def both(log: Log) -> tuple[SlowEnd, SlowEnd]:
    front, rear = end_motion(log, End.FRONT), end_motion(log, End.REAR)
    assert front is not None
    assert rear is not None
    slow = slow_end(front)
    return slow, slow_end(rear, slow)


def of(log: Log, bike: Bike | None = None, state: tuple[float, float] | None = None) -> Attitude:
    found = attitude(bike or log.bike, *both(log), state)
    assert found is not None
    return found


def test_mean_positions_give_exact_pitch_rake_and_trail(make_log: Callable[..., Log], bike: Bike) -> None:
    log = make_log(80.0 + WAVE, 60.0 - WAVE, rate_hz=RATE_HZ)
    found = of(log)
    exact = geometry_change(bike, fork_axis_mm=80.0, rear_axle_up_mm=60.0)
    assert found.pitch_deg == pytest.approx(exact.pitch_deg, abs=0.002)
    assert found.rake_deg == pytest.approx(exact.rake_deg, abs=0.002)
    assert found.trail_mm == pytest.approx(exact.trail_mm, abs=0.02)
    assert found.measured_state == NOT_SAID


def test_nose_down_is_positive(make_log: Callable[..., Log]) -> None:
    """ISO 8855:2011: a turn about the axis to the left, positive with the nose down (from memory)."""
    down = of(make_log(100.0 + 0 * WAVE, 20.0 + 0 * WAVE, rate_hz=RATE_HZ))
    up = of(make_log(20.0 + 0 * WAVE, 100.0 + 0 * WAVE, rate_hz=RATE_HZ))
    assert down.pitch_deg is not None
    assert up.pitch_deg is not None
    assert down.pitch_deg > 2.0
    assert up.pitch_deg < -2.0
    assert down.rake_deg is not None
    assert down.rake_deg < 26.0


def test_pitch_percentiles_are_those_of_every_moment_worked_out_exactly(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    size = 3.0 + 2.0 * np.sin(TIME / 3)
    front, rear = 80.0 + size * WAVE, 60.0 - size * np.roll(WAVE, 31)
    found = of(make_log(front, rear, rate_hz=RATE_HZ))
    pitch = [
        geometry_change(bike, fork_axis_mm=f, rear_axle_up_mm=r).pitch_deg
        for f, r in zip(front[::8], rear[::8], strict=True)
    ]
    assert [found.pitch_p5_deg, found.pitch_p95_deg] == pytest.approx(
        np.percentile(pitch, [5, 95]).tolist(), abs=0.05
    )


def test_the_state_the_geometry_was_measured_in(make_log: Callable[..., Log], bike: Bike) -> None:
    log = make_log(80.0 + WAVE, 60.0 + WAVE, rate_hz=RATE_HZ)
    topped = of(log, replace(bike, measured_state="topped out"))
    assert topped.measured_state == "topped out"
    assert topped.rake_deg == pytest.approx(of(log).rake_deg)
    laden = replace(bike, measured_state="rider aboard")
    at_sag = of(log, laden, (80.0, 60.0))
    assert at_sag.pitch_deg == pytest.approx(0.0, abs=0.01)
    assert at_sag.rake_deg == pytest.approx(26.0, abs=0.01)
    unknown = of(log, laden)
    assert unknown.pitch_deg is unknown.pitch_p5_deg is unknown.rake_deg is unknown.trail_mm is None
    assert unknown.measured_state == (
        "rider aboard: the sag of that state is not known, so pitch, rake and trail are not either"
    )


def test_wheels_moved_up_by_parts_stand_where_more_travel_would_put_them(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    """Raised tubes and plates of a known drop: the frame sinks by them although the travels are the same."""
    assert bike.rear is not None
    bike = replace(bike, rear=replace(bike.rear, plates=(Plates(name="B", drop_mm=25.0),)))
    setup = Setup(name="low", front=EndSetup(raised_in_clamps_mm=12.0), rear=EndSetup(plates_fitted="B"))
    log = replace(make_log(80.0 + WAVE, 60.0 - WAVE, rate_hz=RATE_HZ), bike=bike, setup=setup)
    found = summarise_ride(log).attitude
    assert found is not None
    exact = geometry_change(bike, fork_axis_mm=80.0 + 12.0, rear_axle_up_mm=60.0 + 25.0)
    assert found.pitch_deg == pytest.approx(exact.pitch_deg, abs=0.002)
    assert found.rake_deg == pytest.approx(exact.rake_deg, abs=0.002)
    assert found.trail_mm == pytest.approx(exact.trail_mm, abs=0.02)
    assert found.measured_state == (
        f"{NOT_SAID}; since then the setup moved the wheels up in the bike, front by 12 mm, rear by 25 mm"
    )
    assert found.front_percent == pytest.approx(100 * 80 / 230, abs=0.05)


def test_room_at_full_bump_tells_how_far_a_shorter_shock_moved_the_wheel(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    """20 mm of travel gone and 10 mm less room to the stop: the topped-out wheel is 30 mm further up."""
    assert bike.rear is not None
    shock = EndSetup(travel_mm=200.0, shock_length_mm=340.0)
    wave = make_log(80.0 + WAVE, 60.0 - WAVE, rate_hz=RATE_HZ)
    log = replace(wave, bike=bike, setup=Setup(name="low", rear=shock))
    unknown = summarise_ride(log).attitude
    assert unknown is not None
    assert unknown.pitch_deg is unknown.pitch_p5_deg is unknown.rake_deg is unknown.trail_mm is None
    assert "how far this setup moved the rear wheel up in the bike is not known" in unknown.measured_state
    assert "full_bump_room_mm" in unknown.measured_state
    bike = replace(bike, rear=replace(bike.rear, full_bump_room_mm=40.0))
    measured = Setup(name="low", rear=replace(shock, full_bump_room_mm=30.0))
    found = summarise_ride(replace(wave, bike=bike, setup=measured)).attitude
    assert found is not None
    exact = geometry_change(bike, fork_axis_mm=80.0, rear_axle_up_mm=60.0 + 30.0)
    assert found.pitch_deg == pytest.approx(exact.pitch_deg, abs=0.002)
    assert found.trail_mm == pytest.approx(exact.trail_mm, abs=0.02)


def test_other_springs_leave_the_geometry_where_it_was(make_log: Callable[..., Log]) -> None:
    log = make_log(80.0 + WAVE, 60.0 - WAVE, rate_hz=RATE_HZ)
    sprung = replace(log, setup=Setup(name="soft", front=EndSetup(spring_rate_n_mm=9.0)))
    assert summarise_ride(sprung).attitude == summarise_ride(log).attitude


def test_a_bike_file_without_geometry_says_what_is_missing(make_log: Callable[..., Log], bike: Bike) -> None:
    found = of(make_log(80.0 + WAVE, 60.0 + WAVE, rate_hz=RATE_HZ), replace(bike, wheelbase_mm=None))
    assert found.pitch_deg is None
    assert "the geometry needs wheelbase_mm" in found.measured_state
    assert found.front_percent == pytest.approx(100 * 80 / 230, abs=0.05)


@pytest.mark.parametrize(("front_mm", "word"), [(69.0, "level"), (80.0, "front lower"), (55.0, "rear lower")])
def test_level_or_not(make_log: Callable[..., Log], front_mm: float, word: str) -> None:
    """66 mm of the rear's 220 are 30 %, so are 69 mm of the fork's 230."""
    assert of(make_log(front_mm + WAVE, 66.0 - WAVE, rate_hz=RATE_HZ)).level_word == word


def test_level_cannot_be_told_where_slow_swings_hide_it(make_log: Callable[..., Log]) -> None:
    swing = 15.0 * np.sin(2 * np.pi * TIME / 40.0)
    assert of(make_log(75.0 + swing, 66.0 - swing, rate_hz=RATE_HZ)).level_word == "cannot tell"
    short = TIME < 4.0
    few = of(make_log((90.0 + WAVE)[short], (66.0 + WAVE)[short], rate_hz=RATE_HZ))
    assert few.level_word == "cannot tell"


def test_one_end_alone_has_no_attitude(make_log: Callable[..., Log], bike: Bike) -> None:
    log = make_log(80.0 + WAVE, 60.0 + WAVE, rate_hz=RATE_HZ)
    assert attitude(bike, both(log)[0], None) is None


def test_dives_keep_their_times_across_a_gap(make_log: Callable[..., Log]) -> None:
    brake = np.clip(np.minimum(TIME - 40.0, 42.0 - TIME) / 0.3, 0.0, 1.0)
    log = make_log(80.0 + WAVE / 5 + 50 * brake, 60.0 - WAVE / 5 - 30 * brake, rate_hz=RATE_HZ)
    whole = log.segments[0]
    parts = tuple(
        Segment(start_s=first / RATE_HZ, dt_s=whole.dt_s, values=whole.values[first:end])
        for first, end in ((0, 3000), (3100, 12_000))
    )
    (dive,) = of(replace(log, segments=parts)).dives
    assert dive.start_s == pytest.approx(40.0, abs=0.3)
    assert dive.end_s == pytest.approx(42.0, abs=0.3)
