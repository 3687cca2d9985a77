from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.motion import EndMotion, end_motion
from ingest.errors import CannotAnswer
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import Bike, End, EndSetup, Leverage, Measures, Sensor, Setup, Suspension


def log_of(bike: Bike, *counts: object, rate_hz: float = 1000.0, skew_s: float = 0.0, **more: object) -> Log:
    """A log of raw counts: one array (rows, 2) for each segment, half a second apart."""
    segments, start = [], 0.0
    for values in counts:
        block = np.asarray(values)
        segments.append(Segment(start_s=start, dt_s=1 / rate_hz, values=block))
        start += block.shape[0] / rate_hz + 0.5
    channels = (Channel(name="ch0"), Channel(name="ch1", skew_s=skew_s))
    return Log(
        id="t", kind=Kind.RIDE, started="", bike=bike, channels=channels, segments=tuple(segments), **more
    )


def both(front: object, rear: object = None, dtype: object = np.uint16) -> np.ndarray:
    front = np.asarray(front)
    return np.column_stack([front, front if rear is None else rear]).astype(dtype)


def motion_of(log: Log, end: End = End.FRONT, zero: float | None = None) -> EndMotion:
    motion = end_motion(log, end, zero=zero)
    assert motion is not None
    return motion


def test_counts_become_wheel_travel_on_the_calibration_line(bike: Bike) -> None:
    counts = np.arange(102, 922)
    motion = motion_of(log_of(bike, both(counts)))
    np.testing.assert_allclose(motion.segments[0].travel_mm, (counts - 102) * 230 / 819, atol=1e-9)
    assert motion.travel_mm == 230
    assert motion.bandwidth_hz == pytest.approx(74.3, abs=0.1)
    assert motion.masked_samples == 0


def test_shock_stroke_becomes_wheel_travel_through_the_leverage(bike: Bike) -> None:
    counts = [88, 902]
    motion = motion_of(log_of(bike, both(counts)), End.REAR)
    assert motion.segments[0].travel_mm == pytest.approx([0, 220])
    assert motion.travel_mm == 220


@pytest.mark.parametrize("dtype", [np.uint16, np.int32, np.float64])
def test_zero_is_taken_off_in_the_sensors_own_length(bike: Bike, dtype: type) -> None:
    """The sensor clamped 30 counts further along the shock: table row (55, 21) must still come out."""
    per_mm = 814 / 92
    counts = both(118 + np.linspace(0.0, 2 * 21, 85) * per_mm, dtype=np.float64)
    if dtype is not np.float64:
        counts = np.rint(counts)
    log = log_of(bike, counts.astype(dtype), zeros={End.REAR: 118.0})
    tolerance = 1e-9 if dtype is np.float64 else 0.15
    travel = motion_of(log, End.REAR).segments[0].travel_mm
    assert travel[[0, 42]] == pytest.approx([0, 55], abs=tolerance)


def test_zero_given_by_hand_beats_the_logs_and_the_logs_the_sensors(bike: Bike) -> None:
    sensors = dict(bike.sensors)
    sensors[End.FRONT] = replace(sensors[End.FRONT], zero_count=112.0)
    own_zero = replace(bike, sensors=sensors)
    per_count = 230 / 819
    counts = both([302, 302])

    def first(log: Log, zero: float | None = None) -> float:
        return float(motion_of(log, zero=zero).segments[0].travel_mm[0])

    assert first(log_of(bike, counts)) == pytest.approx(200 * per_count)
    assert first(log_of(own_zero, counts)) == pytest.approx(190 * per_count)
    assert first(log_of(own_zero, counts, zeros={End.FRONT: 122.0})) == pytest.approx(180 * per_count)
    assert first(log_of(own_zero, counts, zeros={End.FRONT: 122.0}), 132) == pytest.approx(170 * per_count)


def test_unknown_zero_is_said(bike: Bike) -> None:
    motion = motion_of(log_of(bike, both([300, 300])))
    assert not motion.zero_known
    assert any("topped-out zero not measured in this mounting" in caution for caution in motion.cautions)
    known = motion_of(log_of(bike, both([300, 300]), zeros={End.FRONT: 102.0}))
    assert known.zero_known
    assert not any("topped-out" in caution for caution in known.cautions)


def test_lowered_setup_converts_with_its_own_travel_leverage_and_zero(bike: Bike) -> None:
    setup = Setup(
        name="lowered",
        rear=EndSetup(travel_mm=195, leverage=Leverage(ratio=2.2), sensor_zero_count=100.0),
        front=EndSetup(travel_mm=205),
    )
    log = log_of(bike, both([488, 488]), setup=setup)
    rear = motion_of(log, End.REAR)
    assert rear.travel_mm == 195
    assert rear.segments[0].travel_mm == pytest.approx(388 * 92 / 814 * 2.2)
    assert motion_of(log).travel_mm == 205


def test_end_slope_is_carried_on_and_then_masked_with_counts_in_the_cautions(bike: Bike) -> None:
    # Up to 970 and back by 5 counts a sample; 5 % of 819 beyond 921 is 961.95.
    counts = np.concatenate([np.arange(500, 970, 5), np.arange(970, 495, -5)])
    motion = motion_of(log_of(bike, both(counts), zeros={End.FRONT: 102.0}))
    travel = motion.segments[0].travel_mm
    assert travel[88] == pytest.approx((940 - 102) * 230 / 819)
    assert np.flatnonzero(np.isnan(travel)).tolist() == list(range(93, 96))
    assert motion.masked_samples == 3
    assert motion.faults == ()
    assert any("carried on (14 samples)" in caution for caution in motion.cautions)
    assert any("left out (3 samples)" in caution for caution in motion.cautions)


def test_beyond_the_leverage_table_is_bounded_as_well(bike: Bike) -> None:
    short = replace(
        bike, rear=Suspension(kind="linkage", travel_mm=110, leverage=Leverage(table=((0, 0), (110, 43.5))))
    )
    per_mm = 814 / 92
    counts = np.rint(88 + np.array([43.5, 45.0, 46.5]) * per_mm)
    motion = motion_of(log_of(short, both(counts)), End.REAR)
    assert np.isnan(motion.segments[0].travel_mm).tolist() == [False, False, True]
    assert any("carried on (1 sample)" in caution for caution in motion.cautions)


def test_noise_about_the_end_stop_needs_no_caution(bike: Bike) -> None:
    motion = motion_of(log_of(bike, both([101, 102, 103, 102]), zeros={End.FRONT: 102.0}))
    assert motion.cautions == ("front: no speed from 1 stretch too short between two gaps",)


def test_lone_spike_is_masked_counted_and_not_in_the_distribution(bike: Bike) -> None:
    counts = np.full(200, 500)
    counts[77] = 900
    motion = motion_of(log_of(bike, both(counts)))
    assert np.isnan(motion.segments[0].travel_mm[77])
    assert motion.masked_samples == 1
    assert motion.distribution.values.tolist() == pytest.approx([(500 - 102) * 230 / 819])
    assert any("lone spikes" in caution and "(1 sample)" in caution for caution in motion.cautions)


def test_table_and_direct_conversion_agree(bike: Bike) -> None:
    random = np.random.default_rng(2)
    counts = np.rint(500 + 300 * np.sin(np.arange(5000) / 80) + random.normal(0, 20, 5000))
    for end in End:
        table = motion_of(log_of(bike, both(counts)), end)
        direct = motion_of(log_of(bike, both(counts, dtype=np.float64)), end)
        np.testing.assert_allclose(table.segments[0].travel_mm, direct.segments[0].travel_mm, atol=2e-5)
        np.testing.assert_allclose(table.segments[0].speed_mm_s, direct.segments[0].speed_mm_s, atol=0.01)
        shares = np.linspace(0, 1, 21)
        np.testing.assert_allclose(
            table.distribution.quantiles(shares), direct.distribution.quantiles(shares)
        )
        assert table.cautions == direct.cautions


def test_falling_sensor_gives_compression_positive(bike: Bike) -> None:
    sensor = Sensor(end=End.FRONT, channel=0, calibration=((900, 0), (100, 200)))
    falling = replace(bike, sensors={End.FRONT: sensor})
    counts = np.rint(900 - 4 * np.linspace(0, 150, 500))
    part = motion_of(log_of(falling, both(counts))).segments[0]
    assert part.travel_mm[-1] == pytest.approx(150)
    assert np.nanmedian(part.speed_mm_s) == pytest.approx(150 / 499 * 1000, rel=0.01)


def test_segments_keep_their_times_and_no_speed_crosses_a_gap(bike: Bike) -> None:
    a, b = both(np.full(100, 300)), both(np.full(50, 800))
    motion = motion_of(log_of(bike, a, b, skew_s=0.0002), End.REAR)
    assert [part.start_s for part in motion.segments] == pytest.approx([0.0002, 0.6002])
    for part in motion.segments:
        assert np.isnan(part.speed_mm_s).sum() == 16
        assert np.nanmax(np.abs(part.speed_mm_s)) == pytest.approx(0, abs=1e-6)
    assert [part.start_s for part in motion_of(log_of(bike, a, b, skew_s=0.0002)).segments] == [0.0, 0.6]


def test_imported_wheel_travel_needs_no_sensor(bike: Bike, make_log: Callable[..., Log]) -> None:
    log = make_log(np.linspace(0, 100, 50), np.full(50, 30.0), bike=replace(bike, sensors={}))
    motion = motion_of(log)
    assert motion.segments[0].travel_mm[-1] == 100
    assert motion.zero_known
    assert motion_of(log, zero=4.0).segments[0].travel_mm[-1] == 96


def test_imported_blanks_are_masked(make_log: Callable[..., Log]) -> None:
    travel = np.full(100, 40.0)
    travel[[5, 6]] = np.nan, np.inf
    motion = motion_of(make_log(travel, travel))
    assert motion.masked_samples == 2
    assert motion.distribution.total == 98


def test_imported_travel_no_wheel_can_reach_is_masked_and_doubtful_travel_is_said(
    make_log: Callable[..., Log],
) -> None:
    """A file in metres, or with a broken column, once asked for 24 GiB to count its speeds."""
    travel = np.full(1000, 40.0)
    travel[100:150], travel[300] = 8e7, -70.0
    travel[500:551], travel[551:561], travel[561:612] = (
        np.linspace(40, 245, 51),
        250.0,
        np.linspace(245, 40, 51),
    )
    motion = motion_of(make_log(travel, travel))  # 230 mm of travel
    assert motion.masked_samples == 51
    assert motion.distribution.values[-1] == 250.0
    said = " ".join(motion.cautions)
    assert "imported readings no wheel can reach were left out (51 samples)" in said
    assert "imported wheel travel lies outside the bike's travel (12 samples)" in said


def test_end_that_was_not_measured_is_none(bike: Bike) -> None:
    counts = both([300, 300])
    front_only = replace(bike, sensors={End.FRONT: bike.sensors[End.FRONT]})
    assert end_motion(log_of(front_only, counts), End.REAR) is None
    assert end_motion(log_of(replace(bike, rear=None), counts), End.REAR) is None
    far = replace(bike, sensors={End.REAR: replace(bike.sensors[End.REAR], channel=5)})
    assert end_motion(log_of(far, counts), End.REAR) is None
    assert end_motion(log_of(bike), End.REAR) is None


def test_shock_sensor_without_leverage_cannot_be_converted(bike: Bike) -> None:
    log = log_of(replace(bike, rear=Suspension(kind="linkage", travel_mm=220)), both([300, 300]))
    with pytest.raises(CannotAnswer, match="rear leverage"):
        end_motion(log, End.REAR)


def test_calibration_of_one_point_is_refused(bike: Bike) -> None:
    sensor = Sensor(end=End.FRONT, channel=0, measures=Measures.WHEEL_TRAVEL, calibration=((100, 0),))
    with pytest.raises(CannotAnswer, match=r"1 point\(s\)"):
        end_motion(log_of(replace(bike, sensors={End.FRONT: sensor}), both([300, 300])), End.FRONT)


def test_slow_sampling_is_said(bike: Bike) -> None:
    motion = motion_of(log_of(bike, both(np.full(60, 300)), rate_hz=100))
    assert any("100 samples a second" in caution for caution in motion.cautions)


def test_results_cannot_be_changed(bike: Bike) -> None:
    part = motion_of(log_of(bike, both(np.full(60, 300)))).segments[0]
    with pytest.raises(ValueError, match="read-only"):
        part.travel_mm[0] = 1.0
