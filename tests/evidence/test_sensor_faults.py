"""Failing sensors on virtual rides: how much of what was wrong is found, how much of what was right is lost.

Thirty-two rides over roads of class A to D with jumps, whoops and bumps, at 200 to 2000 samples a second, 10
to 16 bits, quiet and noisy converters; in each, spikes, stuck readings, dropouts, a plug that is off, a tired
reel and a creeping zero at random ends and times. The same rides with sound sensors, and sag checks with and
without fidgeting, show what is masked for nothing. Counted sample by sample.

A second set of sound sensors is harder: bikes that pack down under three to eight times the rebound damping,
class E, washboards and whoops of 5 to 12 Hz, forks of 200 N of friction on a smooth road.

The thresholds were tuned on rides of other seeds (varied_scenes 300, 600, 1100, 2100, 7200, 7400, 8000, 9000;
faults 200000 to 2000009; lately scenes 320000 and 330000, hard ones 410000 and 510000) and are not touched
for the seeds shown here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.motion import EndMotion, end_motion
from analysis.road import Feature, road_of_class
from analysis.virtual_bike import (
    Scene,
    Truth,
    demo_bike,
    lowered,
    record_of,
    sag_scene,
    simulate,
    to_counts,
    varied_scenes,
)
from analysis.virtual_parts import Damper, Damping, VirtualBike, VirtualEnd
from analysis.virtual_sensor_faults import ALL, DRIFT, TrueFault, random_faults, with_faults
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import Bike, End

pytestmark = pytest.mark.evidence

RATES_HZ = (200, 500, 1000, 2000)
RIDES_A_RATE = 8
SECONDS = 45.0
BITS = (10, 12, 14, 16)
NOISE = (0.5, 0.15)
"""Of a count of 10 bits; finer converters have as much in mm on every other ride."""


@dataclass(frozen=True)
class Ride:
    """One virtual ride and how it is read."""

    rate_hz: int
    number: int
    scene: Scene
    truth: Truth

    @property
    def bits(self) -> int:
        return BITS[(self.number + self.rate_hz // 100) % 4]

    @property
    def noise_counts(self) -> float:
        return NOISE[self.number // 2 % 2] * 2 ** (self.bits - 10)

    @property
    def record(self) -> Bike:
        return record_of(self.scene.bike, self.bits)

    def log(self, counts: np.ndarray, kind: Kind = Kind.RIDE) -> Log:
        return Log(
            id=f"{self.rate_hz} Hz, ride {self.number}",
            kind=kind,
            started="",
            bike=self.record,
            channels=(Channel(name="ch0", bits=self.bits), Channel(name="ch1", bits=self.bits)),
            segments=(Segment(start_s=0.0, dt_s=self.truth.dt_s, values=counts),),
        )

    def clean(self) -> np.ndarray:
        return to_counts(self.truth, self.record, self.bits, self.noise_counts, self.number)

    def failing(self) -> tuple[np.ndarray, tuple[TrueFault, ...]]:
        seed = 600_000 + 100 * self.rate_hz + self.number
        return with_faults(
            self.truth,
            self.record,
            faults=random_faults(seed, SECONDS),
            bits=self.bits,
            noise_counts=self.noise_counts,
            seed=seed,
        )


def masked(motion: EndMotion | None) -> np.ndarray:
    assert motion is not None
    return np.isnan(motion.segments[0].travel_mm)


def samples(fault: TrueFault, dt_s: float) -> slice:
    return slice(round(fault.start_s / dt_s), round(fault.end_s / dt_s))


@pytest.fixture(scope="module")
def rides() -> list[Ride]:
    return [
        Ride(rate, k, scene, truth)
        for rate in RATES_HZ
        for scenes in [varied_scenes(RIDES_A_RATE, seed=91_000 + rate, duration_s=SECONDS)]
        for k, (scene, truth) in enumerate(zip(scenes, simulate(scenes, rate_hz=rate), strict=True))
    ]


def found_as(motion: EndMotion, fault: TrueFault) -> str:
    """What the search called it."""
    kinds = Counter(
        one.kind for one in motion.faults if one.start_s < fault.end_s and one.end_s > fault.start_s
    )
    return kinds.most_common(1)[0][0] if kinds else "nothing"


def test_faulty_spans_are_found_and_good_time_is_kept(rides: list[Ride]) -> None:
    seconds: dict[str, list[float]] = {kind: [0.0, 0.0] for kind in ALL if kind != DRIFT}
    spans: dict[str, list[int]] = {kind: [0, 0] for kind in seconds}
    names: Counter[tuple[str, str]] = Counter()
    good = lost = 0.0
    for ride in rides:
        counts, true = ride.failing()
        for end in End:
            motion = end_motion(ride.log(counts), end)
            mask = masked(motion)
            assert motion is not None
            wrong = np.zeros(mask.size, dtype=bool)
            for fault in (one for one in true if one.end is end):
                span = samples(fault, ride.truth.dt_s)
                wrong[span] = True
                seconds[fault.kind][0] += ride.truth.dt_s * np.count_nonzero(mask[span])
                seconds[fault.kind][1] += ride.truth.dt_s * mask[span].size
                spans[fault.kind][0] += bool(mask[span].mean() >= 0.5)
                spans[fault.kind][1] += 1
                names[fault.kind, found_as(motion, fault)] += 1
            good += ride.truth.dt_s * np.count_nonzero(~wrong)
            lost += ride.truth.dt_s * np.count_nonzero(mask & ~wrong)
    found, total = (sum(part) for part in zip(*seconds.values(), strict=True))
    print(f"\nFailing sensors, {len(rides)} virtual rides, 200 to 2000 Hz, 10 to 16 bits")
    print(f"{'kind':14}{'s found':>10}{'of':>8}{'share':>9}{'spans found':>13}{'of':>6}   called")
    for kind, (of, all_s) in seconds.items():
        called = ", ".join(f"{name} {n}" for (true_kind, name), n in names.most_common() if true_kind == kind)
        print(
            f"{kind:14}{of:>10.2f}{all_s:>8.2f}{of / all_s:>9.4f}"
            f"{spans[kind][0]:>13}{spans[kind][1]:>6}   {called}"
        )
    print(
        f"{'all':14}{found:>10.2f}{total:>8.2f}{found / total:>9.4f}; "
        f"good time masked: {100 * lost / good:.2f} % of {good:.0f} s"
    )
    assert len(rides) >= 30
    assert found / total >= 0.98
    assert lost / good <= 0.01
    for kind, (of, all_s) in seconds.items():
        assert of / all_s >= 0.9, kind


def sag_checks() -> Iterator[tuple[Log, str]]:
    bikes = (demo_bike(), lowered(demo_bike()))
    scenes = [
        sag_scene(bikes[k % 2], rider_mass_kg=55.0 + 8.0 * k, fidget_n=(0.0, 8.0)[k // 2 % 2], seed=k + 900)
        for k in range(6)
    ]
    for rate in (200, 1000):
        for k, (scene, truth) in enumerate(zip(scenes, simulate(scenes, rate_hz=rate), strict=True)):
            ride = Ride(rate, k, scene, truth)
            yield ride.log(ride.clean(), Kind.SAG), "sag check"
            # Somebody recorded it as a ride: still no reason to call a standing bike stuck.
            yield ride.log(ride.clean()), "sag check, recorded as a ride"


def test_sound_sensors_lose_next_to_nothing(rides: list[Ride]) -> None:
    lost: dict[str, list[int]] = {}
    for log, what in (*((ride.log(ride.clean()), "ride") for ride in rides), *sag_checks()):
        for end in End:
            mask = masked(end_motion(log, end))
            counted = lost.setdefault(what, [0, 0])
            counted[0] += int(np.count_nonzero(mask))
            counted[1] += mask.size
    print("\nSound sensors: masked for nothing")
    for what, (wrong, total) in lost.items():
        print(f"{what:32}{wrong:>8} of {total:>9} samples ({100 * wrong / total:.4f} %)")
    for wrong, total in lost.values():
        assert wrong <= 0.001 * total


def packing_down(bike: VirtualBike, times: float) -> VirtualBike:
    def end(one: VirtualEnd) -> VirtualEnd:
        was = one.damper.rebound
        rebound = Damping(
            low_n_s_m=times * was.low_n_s_m, high_n_s_m=times * was.high_n_s_m, knee_m_s=was.knee_m_s
        )
        return replace(one, damper=Damper(compression=one.damper.compression, rebound=rebound))

    return replace(bike, front=end(bike.front), rear=end(bike.rear))


def sticking(bike: VirtualBike, friction_n: float) -> VirtualBike:
    return replace(bike, front=replace(bike.front, friction_n=friction_n))


def hard_on_the_search() -> Iterator[tuple[str, Scene]]:
    """Rides that look like failing sensors and are none."""
    bike = demo_bike()
    for k, scene in enumerate(varied_scenes(10, seed=95_000, duration_s=SECONDS)):
        yield "packs down", replace(scene, bike=packing_down(scene.bike, (3.0, 5.0, 8.0)[k % 3]))
    for k in range(6):
        rough = road_of_class("DE"[k % 2], seed=95_100 + k)
        ridden = packing_down(bike, 4.0) if k % 2 == 0 else bike
        what = ("packs down, class D", "class E")[k % 2]
        yield (
            what,
            Scene(bike=ridden, rider_mass_kg=90.0, road=rough, speed_m_s=7.0 + k / 2, duration_s=SECONDS),
        )
    for k, hertz in enumerate((5.0, 6.5, 8.0, 10.0, 11.3, 12.0)):
        for times in (1.0, 3.0, 6.0):
            length_m = 10.0 / hertz
            whoops = Feature(at_m=30.0, length_m=length_m, height_m=0.02, repeats=int(38 * hertz))
            road = road_of_class("B", seed=95_200 + k, features=(whoops,))
            ridden = packing_down(bike, times)
            yield (
                f"washboard, rebound x {times:.0f}",
                Scene(bike=ridden, rider_mass_kg=90.0, road=road, speed_m_s=10.0, duration_s=SECONDS),
            )
    for k in range(6):
        smooth = road_of_class("A", seed=95_300 + k)
        ridden = sticking(bike, 200.0)
        yield (
            "200 N of friction, class A",
            Scene(bike=ridden, rider_mass_kg=90.0, road=smooth, speed_m_s=9.0 + 3 * k, duration_s=SECONDS),
        )


def test_rides_that_look_like_failing_sensors_lose_next_to_nothing() -> None:
    lost: dict[str, list[int]] = {}
    named = list(hard_on_the_search())
    for rate in (200, 1000):
        truths = simulate([scene for _, scene in named], rate_hz=rate)
        for k, ((what, scene), truth) in enumerate(zip(named, truths, strict=True)):
            ride = Ride(rate, k, scene, truth)
            for noise in NOISE:
                log = read_by_ten_bits(ride, noise)
                for end in End:
                    mask = masked(end_motion(log, end))
                    counted = lost.setdefault(what, [0, 0])
                    counted[0] += int(np.count_nonzero(mask))
                    counted[1] += mask.size
    print("\nSound sensors on rides that look like failing ones, 10 bits: masked for nothing")
    for what, (wrong, total) in lost.items():
        print(f"{what:32}{wrong:>8} of {total:>9} samples ({100 * wrong / total:.4f} %)")
    for wrong, total in lost.values():
        assert wrong <= 0.001 * total


def read_by_ten_bits(ride: Ride, noise_counts: float) -> Log:
    """The ride as a coarse converter reads it, which is the hardest to tell."""
    record = record_of(ride.scene.bike, 10)
    counts = to_counts(ride.truth, record, 10, noise_counts, ride.number)
    log = ride.log(counts)
    return replace(log, bike=record, channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)))
