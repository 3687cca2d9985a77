from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import sawtooth

from analysis.motion import EndMotion, end_motion
from ingest.log import Channel, Kind, Log, Segment, Unit
from ingest.records import Bike, End, Sensor

RATE_HZ = 500
T = np.arange(20 * RATE_HZ) / RATE_HZ
PER_MM = 819 / 230


def rough(seed: int, middle_mm: float = 90.0) -> np.ndarray:
    """Twenty seconds of riding over rough ground, mm: a body that sways and a wheel that hops."""
    random = np.random.default_rng(seed)
    travel = np.full(T.size, float(middle_mm))
    for low, high, size in ((0.6, 2.5, 9.0), (7.0, 14.0, 2.0)):
        for _ in range(6):
            travel += size * np.sin(2 * np.pi * (random.uniform(low, high) * T + random.random()))
    return travel


def counts_of(travel_mm: np.ndarray, seed: int = 0) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, 0.5, travel_mm.size)
    return np.clip(np.rint(102 + PER_MM * travel_mm + noise), 0, 1023)


def log_of(bike: Bike, front: np.ndarray, rear: np.ndarray, kind: Kind = Kind.RIDE) -> Log:
    return Log(
        id="t",
        kind=kind,
        started="",
        bike=bike,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=(
            Segment(start_s=0.0, dt_s=1 / RATE_HZ, values=np.column_stack([front, rear]).astype(np.uint16)),
        ),
    )


def motion_of(bike: Bike, front: np.ndarray, rear: np.ndarray | None = None, **more: Kind) -> EndMotion:
    found = end_motion(
        log_of(bike, front, counts_of(rough(2), 2) if rear is None else rear, **more), End.FRONT
    )
    assert found is not None
    return found


def kinds(motion: EndMotion) -> list[str]:
    return [fault.kind for fault in motion.faults]


def test_a_sound_sensor_has_no_faults(bike: Bike) -> None:
    motion = motion_of(bike, counts_of(rough(1)))
    assert motion.faults == ()
    assert motion.masked_samples == 0


def test_a_stuck_reading_is_found_to_the_sample_and_left_out(bike: Bike) -> None:
    counts = counts_of(rough(1))
    counts[4000:5500] = counts[4000]
    motion = motion_of(bike, counts)
    (fault,) = motion.faults
    assert fault.kind == "stuck"
    assert fault.start_s == pytest.approx(8.0, abs=0.01)
    assert fault.end_s == pytest.approx(11.0, abs=0.01)
    assert np.isnan(motion.segments[0].travel_mm[4005:5495]).all()
    assert (
        motion.masked_samples
        == fault.samples
        == motion.segments[0].travel_mm.size - motion.distribution.total
    )
    (said,) = (caution for caution in motion.cautions if "stood still" in caution)
    assert "1 time, 3.0 s" in said
    assert "check that nothing has come off" in said


def test_a_stuck_reading_keeps_the_noise_of_its_wire(bike: Bike) -> None:
    travel = rough(1)
    travel[4000:5500] = travel[4000]
    (fault,) = motion_of(bike, counts_of(travel)).faults
    assert (fault.kind, fault.samples) == ("stuck", pytest.approx(1500, abs=8))


SECONDS = 15.0


def strokes(t: np.ndarray) -> np.ndarray:
    """A straight stroke in, a stop and a straight stroke out every two seconds."""
    return np.interp(t % 2.0, [0.5, 0.6, 0.7, 0.8], [70, 228, 228, 70])


HONEST = {
    "sine 1.5 Hz": lambda t: 110 + 60 * np.sin(3 * np.pi * t),
    "sine 3 Hz": lambda t: 110 + 80 * np.sin(6 * np.pi * t),
    "two sines": lambda t: 110 + 60 * np.sin(2.6 * np.pi * t) + 20 * np.sin(22 * np.pi * t),
    "triangle 1 Hz": lambda t: 110 + 50 * sawtooth(2 * np.pi * t, 0.5),
    "triangle 2 Hz": lambda t: 110 + 90 * sawtooth(4 * np.pi * t, 0.5),
    "saw, fast in": lambda t: 110 + 90 * sawtooth(2 * np.pi * t, 0.2),
    "saw, fast out": lambda t: 110 + 90 * sawtooth(2 * np.pi * t, 0.8),
    "smooth bumps": lambda t: 60 + 165 * np.maximum(0, np.sin(np.pi * t)) ** 8,
    "bottomings": lambda t: 60 + 165 * np.sin(np.pi * t / 0.2) * (t % 2 < 0.2),
    "strokes from stop to stop": strokes,
    "standing": lambda t: np.full(t.size, 70.0),
    "standing, moving, standing": lambda t: 70 + 60 * np.sin(3 * np.pi * t) * (np.abs(t - 7.0) < 3.0),
}


@pytest.mark.parametrize("rate_hz", [200, 1000])
@pytest.mark.parametrize("unit", [Unit.COUNT, Unit.WHEEL_MM])
@pytest.mark.parametrize("signal", HONEST)
def test_what_a_sound_sensor_may_read_is_left_alone(
    bike: Bike, signal: str, unit: Unit, rate_hz: int
) -> None:
    """Waves of a test bench, strokes by hand, a bike on its stand: as regular as they are, no fault."""
    front = HONEST[signal](np.arange(SECONDS * rate_hz) / rate_hz)
    channels = (Channel(name="ch0", bits=10), Channel(name="ch1", bits=10))
    values = np.column_stack([front, 0.9 * front])
    if unit is Unit.WHEEL_MM:
        channels = (Channel(name="front_mm", unit=unit), Channel(name="rear_mm", unit=unit))
    else:
        stroke = np.interp(values[:, 1], [0, 55, 110, 165, 220], [0, 21, 43.5, 67.3, 92])
        values = np.rint(np.column_stack([102 + PER_MM * front, 88 + stroke / 92 * 814])).astype(np.uint16)
    segments = (Segment(start_s=0.0, dt_s=1 / rate_hz, values=values),)
    log = Log(id="t", kind=Kind.RIDE, started="", bike=bike, channels=channels, segments=segments)
    for end in End:
        motion = end_motion(log, end)
        assert motion is not None
        assert (motion.faults, motion.masked_samples) == ((), 0)


def test_an_end_that_friction_holds_is_not_stuck(bike: Bike) -> None:
    """On a smooth road the front rests for a second, while the rear hops by a millimetre or two."""
    rear = 80 + np.sin(2 * np.pi * 8 * T) + 0.5 * np.sin(2 * np.pi * 11 * T)
    slow = 90 + 0.1 * (rough(1) - 90)
    slow[4000:4500] = slow[4000]
    assert motion_of(bike, counts_of(slow), counts_of(rear, 2)).faults == ()


def test_a_parked_bike_is_not_stuck(bike: Bike) -> None:
    """Both ends stand for eight seconds in the middle of a ride, to the last count."""
    moving = np.clip(np.abs(T - 10.0) - 4.0, 0.0, 0.5) / 0.5
    counts = [np.rint(102 + PER_MM * (90.2 + moving * (rough(seed) - 90))) for seed in (1, 2)]
    assert np.ptp(counts[0][3000:7000]) == 0
    for end in End:
        found = end_motion(log_of(bike, *counts), end)
        assert found is not None
        assert found.faults == ()


def test_setting_off_one_wheel_moves_before_the_other(bike: Bike) -> None:
    front, rear = counts_of(rough(1)), counts_of(rough(2), 2)
    front[:5000], rear[:4500] = front[5000], rear[4500]
    assert motion_of(bike, front, rear).faults == ()


def test_one_end_pushed_up_and_down_in_the_workshop_does_not_make_the_other_stuck(bike: Bike) -> None:
    pushed = 60 + 50 * np.sin(2 * np.pi * 1.5 * T)
    assert motion_of(bike, np.full(T.size, 400.0), counts_of(pushed)).faults == ()


def test_a_wheel_in_the_air_is_not_stuck(bike: Bike) -> None:
    """Three seconds of wheelie: topped out, dead still, while the rear works."""
    travel = rough(1)
    travel[4000:5500] = 0.0
    travel[3900:4000] = np.linspace(travel[3900], 0.0, 100)
    travel[5500:5600] = np.linspace(0.0, travel[5600], 100)
    assert motion_of(bike, counts_of(travel)).faults == ()


def test_a_parked_bike_with_a_loose_plug_loses_only_the_dropout(bike: Bike) -> None:
    """The other end is pushed about meanwhile; the standing reading comes back to where it was."""
    counts = np.full(T.size, 400.0)
    counts[5000:5250] = 1023
    motion = motion_of(bike, counts, counts_of(60 + 50 * np.sin(2 * np.pi * 1.5 * T)))
    assert [(f.kind, f.samples) for f in motion.faults] == [("dropout", 250)]


def test_hanging_and_coming_back_with_a_jump_is_stuck(bike: Bike) -> None:
    """Stuck where the wheel was topped out: no wheel gets from there to 70 mm within 2 ms."""
    travel = rough(1)
    start = 4000
    travel[start - 100 : start] = np.linspace(travel[start - 100], 0.0, 100)
    counts = counts_of(travel)
    stop = start + 500 + int(np.argmax(travel[start + 500 : start + 900]))
    counts[start:stop] = counts[start - 1]
    (fault,) = motion_of(bike, counts).faults
    assert (fault.kind, fault.samples) == ("stuck", pytest.approx(stop - start, abs=6))


def test_nothing_is_stuck_in_a_sag_check(bike: Bike) -> None:
    counts = counts_of(rough(1))
    counts[4000:5500] = counts[4000]
    assert motion_of(bike, counts, kind=Kind.SAG).faults == ()


def test_without_the_other_end_a_dead_stop_and_a_jump_say_it(bike: Bike) -> None:
    alone = replace(bike, sensors={End.FRONT: bike.sensors[End.FRONT]})
    travel = rough(1)
    fast = int(np.argmax(np.abs(np.gradient(travel[4000:4400])))) + 4000
    counts = counts_of(travel)
    stop = fast + 600 + int(np.argmax(np.abs(travel[fast + 600 : fast + 900] - travel[fast])))
    counts[fast:stop] = counts[fast]
    (fault,) = motion_of(alone, counts).faults
    assert (fault.kind, fault.samples) == ("stuck", pytest.approx(stop - fast, abs=4))


@pytest.mark.parametrize("rail", [0, 1023])
def test_a_pulled_plug_lies_at_a_rail(bike: Bike, rail: int) -> None:
    counts = counts_of(rough(1))
    counts[4000:5500] = rail
    motion = motion_of(bike, counts)
    assert [(f.kind, f.samples) for f in motion.faults] == [("at a rail", 1500)]
    assert any("check that it is plugged in" in caution for caution in motion.cautions)


def test_a_loose_plug_drops_out_and_comes_back(bike: Bike) -> None:
    counts = counts_of(rough(1))
    for first, stop, to in ((2000, 2004, 0), (4000, 4200, 1023), (6000, 6300, 850)):
        counts[first:stop] = to
    motion = motion_of(bike, counts)
    assert [(f.kind, f.samples) for f in motion.faults] == [("dropout", n) for n in (4, 200, 300)]
    assert any("3 times, 1.0 s); check the plug" in caution for caution in motion.cautions)


def test_a_converter_that_ends_in_the_middle_of_the_travel_is_at_a_rail(bike: Bike) -> None:
    """Mounted so that full scale is reached at 130 mm: the reading clips where the wheel does not stop."""
    sensor = Sensor(end=End.FRONT, channel=0, calibration=((200.0, 0.0), (1600.0, 230.0)))
    clipped = replace(bike, sensors={**bike.sensors, End.FRONT: sensor})
    counts = np.clip(np.rint(200 + 1400 / 230 * rough(1, middle_mm=100)), 0, 1023)
    motion = motion_of(clipped, counts)
    assert set(kinds(motion)) <= {"at a rail", "spike"}
    high = counts == 1023
    assert high.any()
    assert np.isnan(motion.segments[0].travel_mm[high]).all()


def test_a_slow_reel_is_found_and_its_ramps_left_out(bike: Bike) -> None:
    travel = rough(1)
    step = 350.0 / RATE_HZ
    reel = np.minimum.accumulate(travel - step * np.arange(T.size)) + step * np.arange(T.size)
    slack = travel - reel > 0.02
    motion = motion_of(bike, counts_of(reel))
    assert set(kinds(motion)) == {"slack string"}
    masked = np.isnan(motion.segments[0].travel_mm)
    assert masked[slack].mean() > 0.95
    # What sways at the speed of the reel by itself cannot be told from it.
    assert masked[~slack].mean() < 0.12
    (said,) = (caution for caution in motion.cautions if "slack" in caution)
    assert "fast compression: its reel pulls in no faster than 3" in said


def test_a_string_mounted_the_other_way_and_a_falling_sensor(bike: Bike) -> None:
    travel = rough(1)
    step = 350.0 / RATE_HZ
    reel = np.maximum.accumulate(travel + step * np.arange(T.size)) - step * np.arange(T.size)
    falling = Sensor(end=End.FRONT, channel=0, calibration=((921.0, 0.0), (102.0, 230.0)))
    turned = replace(bike, sensors={**bike.sensors, End.FRONT: falling})
    motion = motion_of(turned, 1023 - counts_of(reel))
    (said,) = (caution for caution in motion.cautions if "slack" in caution)
    assert "fast extension" in said


def test_spans_do_not_overlap_and_what_is_left_is_what_is_counted(bike: Bike) -> None:
    travel = rough(1)
    step = 350.0 / RATE_HZ
    counts = counts_of(np.minimum.accumulate(travel - step * np.arange(T.size)) + step * np.arange(T.size))
    counts[2000:2003] = 1023
    counts[3000:4000] = counts[3000]
    counts[5000:6000] = 0
    motion = motion_of(bike, counts)
    assert {"stuck", "at a rail", "slack string"} <= set(kinds(motion))
    edges = [edge for fault in motion.faults for edge in (fault.start_s, fault.end_s)]
    assert edges == sorted(edges)
    valid = motion.segments[0].travel_mm
    valid = valid[~np.isnan(valid)]
    assert motion.distribution.total == valid.size
    assert motion.distribution.mean == pytest.approx(valid.mean())
    assert motion.masked_samples == sum(fault.samples for fault in motion.faults)


def test_dead_band_is_three_standard_deviations_of_what_noise_alone_shows(bike: Bike) -> None:
    """Standing still with its noise, ten times over: nearly all of the speed lies inside, not much more."""
    motion = motion_of(bike, counts_of(np.full(T.size, 90.3)), counts_of(np.full(T.size, 80.7), 3))
    speed = motion.segments[0].speed_mm_s
    speed = speed[~np.isnan(speed)]
    assert 0.985 < np.mean(np.abs(speed) <= motion.dead_band_mm_s) <= 1.0
    assert motion.dead_band_mm_s == pytest.approx(3 * speed.std(), rel=0.15)


def test_dead_band_is_the_same_on_the_road(bike: Bike) -> None:
    still = motion_of(bike, counts_of(np.full(T.size, 90.3))).dead_band_mm_s
    assert motion_of(bike, counts_of(rough(1))).dead_band_mm_s == pytest.approx(still, rel=0.15)
