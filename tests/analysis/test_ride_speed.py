"""Ride speed from roads made by hand; that of the virtual bike is in ``tests/evidence``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.motion import end_motion
from analysis.ride_speed import EndPieces, end_pieces, pace, ride_speed
from ingest.log import Channel, Log, Segment, Unit
from ingest.records import Bike, End

WHEELBASE_M = 1.56


def road(seconds: float, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Times, and the travel a wheel makes of a rough road: noise of 2 to 30 Hz, some mm of it."""
    time = np.arange(0.0, seconds, 0.0005)
    noise = np.fft.rfft(np.random.default_rng(seed).normal(size=time.size))
    hertz = np.fft.rfftfreq(time.size, 0.0005)
    noise[(hertz < 2.0) | (hertz > 30.0)] = 0.0
    noise[1:] /= hertz[1:]
    wave = np.fft.irfft(noise, time.size)
    return time, 6.0 * wave / wave.std()


def followed(
    make_log: Callable[..., Log],
    speed_m_s: float,
    *,
    seconds: float = 60.0,
    rate_hz: float = 1000.0,
    unlike: float = 0.0,
) -> Log:
    """The rear repeats the front; ``unlike`` is the share of its motion that comes from another road."""
    fine, height = road(seconds + 2.0)
    other = road(seconds + 2.0, seed=2)[1]
    time = np.arange(1.0, seconds + 1.0, 1.0 / rate_hz)
    front = np.interp(time, fine, height)
    same = np.interp(time - WHEELBASE_M / speed_m_s, fine, height)
    rear = np.sqrt(1.0 - unlike) * same + np.sqrt(unlike) * np.interp(time, fine, other)
    return make_log(80.0 + front, 60.0 + 0.8 * rear, rate_hz=rate_hz)


def ends(log: Log) -> tuple[EndPieces, EndPieces]:
    front, rear = end_motion(log, End.FRONT), end_motion(log, End.REAR)
    assert front is not None
    assert rear is not None
    return end_pieces(front), end_pieces(rear)


@pytest.mark.parametrize("rate_hz", [200.0, 333.0, 1000.0])
@pytest.mark.parametrize("speed_m_s", [3.0, 12.0, 35.0])
def test_a_rear_that_repeats_the_front_tells_the_speed(
    make_log: Callable[..., Log], bike: Bike, speed_m_s: float, rate_hz: float
) -> None:
    found = ride_speed(bike, *ends(followed(make_log, speed_m_s, rate_hz=rate_hz)))
    assert found is not None
    assert found.speed_m_s is not None
    assert found.speed_m_s.value == pytest.approx(speed_m_s, rel=0.01)
    assert found.pieces == found.pieces_tried == 10
    # 4 ms of delay at most for the different answers of both ends, and a per cent of wheelbase.
    least = np.hypot(0.004 * speed_m_s / WHEELBASE_M, 0.01)
    assert found.speed_m_s.expanded_uncertainty / speed_m_s == pytest.approx(least, rel=0.1)


def test_half_of_another_road_still_tells_it_and_nothing_but_another_does_not(
    make_log: Callable[..., Log], bike: Bike
) -> None:
    half = ride_speed(bike, *ends(followed(make_log, 15.0, unlike=0.5)))
    assert half is not None
    assert half.speed_m_s is not None
    assert half.speed_m_s.value == pytest.approx(15.0, rel=0.02)
    none = ride_speed(bike, *ends(followed(make_log, 15.0, unlike=1.0)))
    assert none is not None
    assert none.speed_m_s is None
    assert none.unknown_because is not None
    assert none.unknown_because.startswith("in only 0 of 10 pieces of 6 s did the rear wheel clearly repeat")


def test_two_speeds_are_not_mixed(make_log: Callable[..., Log], bike: Bike) -> None:
    slow, fast = followed(make_log, 8.0, seconds=33.0), followed(make_log, 20.0, seconds=33.0)
    values = np.concatenate([slow.segments[0].values, fast.segments[0].values])
    joined = replace(slow, segments=(replace(slow.segments[0], values=values),))
    found = pace(bike, *ends(joined))
    assert found.speed_m_s.size >= 10
    off = np.minimum(abs(found.speed_m_s / 8.0 - 1), abs(found.speed_m_s / 20.0 - 1))
    assert off.max() < 0.02
    assert found.speed_m_s[found.t_s < 30.0] == pytest.approx(8.0, rel=0.02)
    assert found.speed_m_s[found.t_s > 36.0] == pytest.approx(20.0, rel=0.02)


def test_channels_read_one_after_the_other_do_not_change_it(make_log: Callable[..., Log], bike: Bike) -> None:
    log = followed(make_log, 30.0)
    rows = log.segments[0].values
    late = tuple(
        Channel(name=f"{end}_mm", unit=Unit.WHEEL_MM, skew_s=s)
        for end, s in zip(End, (0.0, 0.005), strict=True)
    )
    skewed = replace(log, channels=late, segments=(replace(log.segments[0], values=_earlier(rows, 5)),))
    found = ride_speed(bike, *ends(skewed))
    assert found is not None
    assert found.speed_m_s is not None
    assert found.speed_m_s.value == pytest.approx(30.0, rel=0.01)


def _earlier(rows: np.ndarray, by: int) -> np.ndarray:
    """The rear as it reads ``by`` rows later, the front as it is."""
    return np.column_stack([rows[:-by, 0], rows[by:, 1]])


def test_gaps_and_masks_are_not_crossed(make_log: Callable[..., Log], bike: Bike) -> None:
    log = followed(make_log, 12.0)
    values = np.array(log.segments[0].values)
    values[7_000:7_100, 1] = 900.0  # masked, no wheel can be there: little enough to be bridged
    values[20_000:22_000, 1] = 900.0  # and too much
    parts = (Segment(start_s=0.0, dt_s=0.001, values=values[:33_000]),)
    parts += (Segment(start_s=35.0, dt_s=0.001, values=values[35_000:]),)
    found = pace(bike, *ends(replace(log, segments=parts)))
    # Five whole pieces before the gap, one of them masked, and four after it.
    assert found.pieces_tried == 8
    assert found.speed_m_s == pytest.approx(12.0, rel=0.02)
    assert found.t_s[-1] == pytest.approx(35.0 + 3.5 * 6.0)


def test_a_standing_bike_has_no_speed(make_log: Callable[..., Log], bike: Bike) -> None:
    random = np.random.default_rng(3)
    log = make_log(70 + random.normal(0, 0.1, 60_000), 60 + random.normal(0, 0.1, 60_000))
    found = ride_speed(bike, *ends(log))
    assert found is not None
    assert found.speed_m_s is None
    still = ride_speed(bike, *ends(make_log(np.full(60_000, 70.0), np.full(60_000, 60.0))))
    assert still is not None
    assert still.pieces == 0


def test_why_it_is_unknown(make_log: Callable[..., Log], bike: Bike) -> None:
    front, rear = ends(followed(make_log, 12.0, seconds=20.0))
    reasons = [
        ride_speed(bike, front, None),
        ride_speed(replace(bike, wheelbase_mm=None), front, rear),
        ride_speed(bike, *ends(followed(make_log, 12.0, seconds=20.0))),
        ride_speed(bike, *ends(followed(make_log, 12.0, rate_hz=50.0))),
    ]
    assert [each.unknown_because for each in reasons if each is not None] == [
        "it takes both ends, and only one was measured",
        "the bike file has no wheelbase_mm",
        "it takes 5 times 6 s without a gap at both ends, and there are 3",
        "50 samples a second are too few: it takes 100",
    ]
    assert ride_speed(bike, None, None) is None
