"""Where the virtual bike rides, front against rear, against what truly happened: 78 rides, 10-bit, 1 kHz.

Each lasts 42 s. Forty are ten each of two bikes (the demo bike, and one with three times its rebound damping)
on a smooth and a rough road; ten of the lowered bike on gravel with braking; twenty of bikes that differ in
dampers, wheels, tyres, friction and wheelbase, on roads of class A to E at 5 to 28 m/s; eight with braking
and driving. The thresholds of dives and of ride speed were chosen on other seeds; these figures are of fresh
ones.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import brentq

from analysis.attitude import attitude, slow_end
from analysis.motion import EndMotion, end_motion
from analysis.ride_height import ride_height
from analysis.ride_results import Attitude, RideHeight, Span
from analysis.ride_speed import end_pieces, pace, ride_speed
from analysis.road import CLASS_GD_M3, Feature, road_of_class
from analysis.roughness import roughness
from analysis.virtual_bike import (
    Damper,
    Damping,
    Load,
    Scene,
    Truth,
    VirtualBike,
    VirtualEnd,
    demo_bike,
    lowered,
    record_of,
    simulate,
    to_counts,
)
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import Bike, End

pytestmark = pytest.mark.evidence

SEED = 20_260
DURATION_S = 42.0
RIDER_KG = 95.0
GRAVITY_M_S2 = 9.80665
MASS_HEIGHT_MM = 680.0
SMOOTH, ROUGH = ("B", 14.0), ("D", 10.0)
FASTEST_M_S = {"A": 28.0, "B": 28.0, "C": 24.0, "D": 13.0, "E": 8.0}


@dataclass(frozen=True)
class Ride:
    """One ride: what kind, what was ridden, what was true and what was recorded of it."""

    kind: str
    road_class: str
    scene: Scene
    truth: Truth
    bike: Bike
    front: EndMotion
    rear: EndMotion

    def motion(self, end: End) -> EndMotion:
        return self.front if end is End.FRONT else self.rear


def log_of(bike: Bike, counts: np.ndarray) -> Log:
    return Log(
        id="ride",
        kind=Kind.RIDE,
        started="",
        bike=bike,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=(Segment(start_s=0.0, dt_s=0.001, values=counts),),
    )


def motions(log: Log) -> tuple[EndMotion, EndMotion]:
    front, rear = end_motion(log, End.FRONT), end_motion(log, End.REAR)
    assert front is not None
    assert rear is not None
    return front, rear


def heavy_rebound(bike: VirtualBike) -> VirtualBike:
    """Three times the rebound damping: the wheel comes back out late."""

    def of(end: VirtualEnd) -> VirtualEnd:
        rebound = end.damper.rebound
        slow = replace(rebound, low_n_s_m=3 * rebound.low_n_s_m, high_n_s_m=3 * rebound.high_n_s_m)
        return replace(end, damper=replace(end.damper, rebound=slow))

    return replace(bike, front=of(bike.front), rear=of(bike.rear))


def other_bike(random: np.random.Generator) -> VirtualBike:
    """A bike that answers a bump otherwise, front and rear each in its own way."""

    def times(damping: Damping, factor: float) -> Damping:
        return replace(damping, low_n_s_m=factor * damping.low_n_s_m, high_n_s_m=factor * damping.high_n_s_m)

    def of(end: VirtualEnd) -> VirtualEnd:
        into, out = random.uniform(0.6, 1.6, 2)
        return replace(
            end,
            damper=Damper(
                compression=times(end.damper.compression, into), rebound=times(end.damper.rebound, out)
            ),
            unsprung_mass_kg=end.unsprung_mass_kg * random.uniform(0.7, 1.3),
            tyre_rate_n_mm=end.tyre_rate_n_mm * random.uniform(0.75, 1.25),
            friction_n=end.friction_n * random.uniform(0.4, 2.0),
        )

    bike = demo_bike()
    return replace(
        bike, front=of(bike.front), rear=of(bike.rear), wheelbase_mm=float(random.uniform(1380, 1620))
    )


def shoves(
    random: np.random.Generator, bike: VirtualBike, g: tuple[float, float], driving: float
) -> tuple[Load, ...]:
    """Braking, or for a share of ``driving`` accelerating, every few seconds: weight moved along the bike."""
    mass_kg = bike.sprung_mass_kg + RIDER_KG + sum(end.unsprung_mass_kg for end in bike.ends)
    loads, at_s = [Load(t_s=0.0, front_n=0.0, rear_n=0.0)], 3.0
    while at_s < DURATION_S - 5.0:
        size = float(random.uniform(*g)) * (-0.7 if random.random() < driving else 1.0)
        hold_s, ramp_s = float(random.uniform(0.6, 2.0)), float(random.uniform(0.2, 0.4))
        moved_n = mass_kg * GRAVITY_M_S2 * size * MASS_HEIGHT_MM / bike.wheelbase_mm
        for after_s, share in ((0.0, 0.0), (ramp_s, 1.0), (ramp_s + hold_s, 1.0), (2 * ramp_s + hold_s, 0.0)):
            loads.append(Load(t_s=at_s + after_s, front_n=share * moved_n, rear_n=-share * moved_n))
        at_s += 2 * ramp_s + hold_s + float(random.uniform(2.5, 6.0))
    return tuple(loads)


def bumps(random: np.random.Generator, speed_m_s: float) -> tuple[Feature, ...]:
    """A bump of 30 to 70 mm or three whoops every few seconds."""
    features, at_m = [], 3.0 * speed_m_s
    while at_m < (DURATION_S - 3.0) * speed_m_s:
        one = random.random() < 0.5
        seconds, height_m = (0.1, random.uniform(0.03, 0.07)) if one else (0.5, random.uniform(0.08, 0.15))
        features.append(
            Feature(at_m=at_m, length_m=seconds * speed_m_s, height_m=height_m, repeats=1 if one else 3)
        )
        at_m += float(random.uniform(3.0, 5.0)) * speed_m_s
    return tuple(features)


def scenes() -> list[tuple[str, str, Scene]]:
    """What kind, road class, scene."""
    random = np.random.default_rng(SEED)
    found: list[tuple[str, str, Scene]] = []

    def add(
        kind: str,
        bike: VirtualBike,
        on: tuple[str, float],
        loads: tuple[Load, ...] = (),
        features: tuple[Feature, ...] = (),
    ) -> None:
        road = road_of_class(on[0], seed=int(random.integers(1 << 30)), features=features)
        scene = Scene(
            bike=bike,
            rider_mass_kg=RIDER_KG,
            road=road,
            speed_m_s=on[1],
            duration_s=DURATION_S,
            loads=loads,
        )
        found.append((kind, on[0], scene))

    stock, packing, low = demo_bike(), heavy_rebound(demo_bike()), lowered(demo_bike())
    for _ in range(10):
        add("stock smooth", stock, SMOOTH)
        add("stock rough", stock, ROUGH)
        add("packing smooth", packing, SMOOTH)
        add("packing rough", packing, ROUGH)
        add("gravel, braking", low, ("C", 13.0), shoves(random, low, (0.2, 0.6), 0.0))
    for k in range(20):
        road_class = "ABCDE"[k % 5]
        speed_m_s = float(random.uniform(5.0, FASTEST_M_S[road_class]))
        features = bumps(random, speed_m_s) if k >= 15 else ()
        add("other bike", other_bike(random), (road_class, speed_m_s), features=features)
    for k in range(8):
        bike, on = (stock, low)[k % 2], (("B", 18.0), ("C", 13.0), ("D", 8.0), ("A", 22.0))[k % 4]
        loads = shoves(random, bike, (0.3, 0.7), 0.4)
        add("braking and driving", bike, on, loads, bumps(random, on[1]) if k >= 4 else ())
    return found


@pytest.fixture(scope="module")
def rides() -> list[Ride]:
    made = scenes()
    rides = []
    for k, ((kind, road_class, scene), truth) in enumerate(
        zip(made, simulate([scene for *_, scene in made]), strict=True)
    ):
        bike = record_of(scene.bike)
        front, rear = motions(log_of(bike, to_counts(truth, bike, seed=k)))
        rides.append(
            Ride(
                kind=kind,
                road_class=road_class,
                scene=scene,
                truth=truth,
                bike=bike,
                front=front,
                rear=rear,
            )
        )
    return rides


def of_kind(rides: list[Ride], kind: str) -> list[Ride]:
    return [ride for ride in rides if ride.kind == kind]


def long_run(rides: list[Ride], end: End, without: Ride | None = None) -> float:
    """Mean of the true travel over all rides of one kind, or all but one."""
    return float(np.mean([ride.truth.travel_mm(end).mean() for ride in rides if ride is not without]))


def test_intervals_of_the_ride_height_cover_the_long_run_mean(rides: list[Ride]) -> None:
    """Each ride's 95 % interval against the true mean of the nine other rides on the same kind of road.

    The nine are not the long run either, so a perfect interval would cover a little less than 95 in 100.
    """
    print("\nMean ride position, ten rides of 42 s a row, against the nine others")
    print("kind             end   mean mm  between rides sd  half width  covered")
    all_covered: list[bool] = []
    for kind in ("stock smooth", "stock rough", "packing smooth", "packing rough", "gravel, braking"):
        same = of_kind(rides, kind)
        for end in End:
            heights = [ride_height(ride.motion(end), ride.motion(end).travel_mm, None) for ride in same]
            covered = [
                height.interval_mm[0] <= long_run(same, end, without=ride) <= height.interval_mm[1]
                for ride, height in zip(same, heights, strict=True)
                if height.interval_mm is not None
            ]
            halves = [h.interval_mm[1] - h.mean_mm for h in heights if h.interval_mm is not None]
            true = [ride.truth.travel_mm(end).mean() for ride in same]
            assert len(covered) == len(same)
            print(
                f"{kind:<16} {end:<5} {np.mean(true):7.1f} {np.std(true, ddof=1):17.2f} "
                f"{np.mean(halves):11.2f} {sum(covered):6} of {len(covered)}"
            )
            all_covered += covered
            for height, mean in zip(heights, true, strict=True):
                assert height.mean_mm == pytest.approx(mean, abs=0.3)  # 10 bits and their noise
    print(f"covered: {np.mean(all_covered):.3f} of {len(all_covered)}")
    assert np.mean(all_covered) >= 0.90


def spliced(one: Ride, other: Ride, each_s: float = 6.0) -> tuple[EndMotion, EndMotion]:
    """The same bike on two roads in turn, six seconds each."""
    rows = round(each_s / one.truth.dt_s)
    counts = [to_counts(ride.truth, ride.bike, seed=7) for ride in (one, other)]
    pieces = [each[k : k + rows] for k in range(0, len(counts[0]) - rows + 1, rows) for each in counts]
    return motions(log_of(one.bike, np.concatenate(pieces)))


def test_packing_down_is_told_from_holding_its_height(rides: list[Ride]) -> None:
    """Smooth and rough road in turn. The interval of each ride against the mean of what the nine others give.

    The road's own change is smaller: it is between all of the one road and all of the other, not between the
    roughest and the smoothest third of the ride.
    """
    print("\nRough less smooth, mm, ten rides of 84 s a row: six seconds of each road in turn")
    print("bike     end   between roads  found (mean)  doubt (mean)  covered  words")
    all_covered: list[bool] = []
    words: dict[str, list[str]] = {"stock": [], "packing": []}
    for name in words:
        smooth, rough = (of_kind(rides, f"{name} {road}") for road in ("smooth", "rough"))
        both = [spliced(*pair) for pair in zip(smooth, rough, strict=True)]
        for end in End:
            true = long_run(rough, end) - long_run(smooth, end)
            found: list[RideHeight] = []
            for front, rear in both:
                motion = front if end is End.FRONT else rear
                found.append(ride_height(motion, motion.travel_mm, None))
            changes = [each.rough_change_mm for each in found if each.rough_change_mm is not None]
            assert len(changes) == len(found)
            total = sum(each.value for each in changes)
            covered = [
                abs(each.value - (total - each.value) / (len(changes) - 1)) <= each.expanded_uncertainty
                for each in changes
            ]
            said = [each.rough_word for each in found]
            print(
                f"{name:<8} {end:<5} {true:13.1f} {np.mean([c.value for c in changes]):13.1f} "
                f"{np.mean([c.expanded_uncertainty for c in changes]):13.1f} {sum(covered):5} of "
                f"{len(covered)}  {', '.join(f'{said.count(w)} {w}' for w in sorted(set(said)))}"
            )
            all_covered += covered
            words[name] += said
    print(f"covered: {np.mean(all_covered):.3f} of {len(all_covered)}")
    assert np.mean(all_covered) >= 0.90
    assert words["stock"].count("holds its height") >= 0.9 * len(words["stock"])
    assert words["packing"].count("packs down") >= 0.9 * len(words["packing"])


def attitude_of(ride: Ride) -> Attitude:
    slow = slow_end(ride.front)
    found = attitude(ride.bike, slow, slow_end(ride.rear, slow))
    assert found is not None
    return found


def solved_attitude(bike: Bike, front_mm: float, rear_mm: float) -> tuple[float, float, float]:
    """Pitch and rake (degrees) and trail (mm) of the rigid bike, by turning it until both wheels touch."""
    assert bike.rake_deg is not None
    assert bike.wheelbase_mm is not None
    assert bike.fork_offset_mm is not None
    assert bike.front_wheel_radius_mm is not None
    assert bike.rear_wheel_radius_mm is not None
    rake = np.radians(bike.rake_deg)
    axis = np.array([-np.sin(rake), np.cos(rake)])  # up the fork, in the frame
    front = np.array([bike.wheelbase_mm, bike.front_wheel_radius_mm]) + front_mm * axis
    rear = np.array([0.0, bike.rear_wheel_radius_mm + rear_mm])

    def turned(angle: float, vector: np.ndarray) -> np.ndarray:
        return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) @ vector

    def floats(angle: float) -> float:
        radii = bike.front_wheel_radius_mm - bike.rear_wheel_radius_mm
        return float(turned(angle, front - rear)[1] - radii)

    nose_up = float(brentq(floats, -0.5, 0.5, xtol=1e-14))
    up = turned(nose_up, axis)
    # The axis, offset behind the front axle, meets the ground ahead of the contact point.
    through = np.array([0.0, bike.front_wheel_radius_mm]) - bike.fork_offset_mm * np.array([up[1], -up[0]])
    ground = through - up * through[1] / up[1]
    return -np.degrees(nose_up), bike.rake_deg + np.degrees(nose_up), float(ground[0])


def test_pitch_rake_and_trail_at_the_ride_position(rides: list[Ride]) -> None:
    """Against the rigid bike, solved another way, at the true mean positions; pitch at every true moment."""
    errors = []
    for ride in rides:
        found = attitude_of(ride)
        front, rear = ride.truth.front_mm, ride.truth.rear_mm
        pitch, rake, trail = solved_attitude(ride.bike, front.mean(), rear.mean())
        moments = [solved_attitude(ride.bike, f, r)[0] for f, r in zip(front[::97], rear[::97], strict=True)]
        low, high = np.percentile(moments, [5, 95])
        assert found.pitch_deg is not None
        assert found.rake_deg is not None
        assert found.trail_mm is not None
        assert found.pitch_p5_deg is not None
        assert found.pitch_p95_deg is not None
        errors.append(
            (
                found.pitch_deg - pitch,
                found.rake_deg - rake,
                found.trail_mm - trail,
                found.pitch_p5_deg - low,
                found.pitch_p95_deg - high,
            )
        )
    worst = np.abs(errors).max(axis=0)
    print(
        f"\nWorst of {len(errors)} rides: pitch {worst[0]:.3f}°, rake {worst[1]:.3f}°, "
        f"trail {worst[2]:.2f} mm, pitch below for 5 % of the time {worst[3]:.2f}°, for 95 % {worst[4]:.2f}°"
    )
    assert worst[0] <= 0.02
    assert worst[1] <= 0.02
    assert worst[2] <= 0.2
    assert max(worst[3:]) <= 0.25


def test_ride_speed(rides: list[Ride]) -> None:
    rows = []
    print("\nRide speed from the delay between front and rear")
    print("road  rides  unknown  median error %  worst %  mean ± %  covered")
    for road_class in "ABCDE":
        for ride in rides:
            if ride.road_class == road_class and ride.kind != "braking and driving":
                found = ride_speed(ride.bike, end_pieces(ride.front), end_pieces(ride.rear))
                assert found is not None
                if found.speed_m_s is None:
                    rows.append((road_class, np.nan, np.nan))
                    continue
                true = ride.scene.speed_m_s
                error, doubt = found.speed_m_s.value / true - 1, found.speed_m_s.expanded_uncertainty / true
                rows.append((road_class, 100 * error, 100 * doubt))
        mine = np.array([row[1:] for row in rows if row[0] == road_class])
        print(f"{road_class:<5} {summary_of(mine)}")
    all_rows = np.array([row[1:] for row in rows])
    print(f"all   {summary_of(all_rows)}")
    error, doubt = all_rows[np.isfinite(all_rows[:, 0])].T
    assert len(rows) >= 20
    assert len(error) >= 0.9 * len(rows)
    assert np.median(np.abs(error)) <= 2.0
    assert np.abs(error).max() <= 8.0
    assert np.mean(np.abs(error) <= doubt) >= 0.90


def summary_of(rows: np.ndarray) -> str:
    known = rows[np.isfinite(rows[:, 0])]
    size = np.abs(known[:, 0])
    return (
        f"{len(rows):>5} {len(rows) - len(known):>8} {np.median(size):>15.2f} {size.max():>8.2f} "
        f"{known[:, 1].mean():>9.1f} {np.mean(size <= known[:, 1]):>8.2f}"
    )


def test_two_rides_joined_keep_their_speeds_apart(rides: list[Ride]) -> None:
    speeds = (SMOOTH[1], ROUGH[1])
    worst = []
    for one, other in zip(of_kind(rides, "stock smooth"), of_kind(rides, "stock rough"), strict=True):
        counts = np.concatenate([to_counts(ride.truth, ride.bike, seed=3) for ride in (one, other)])
        found = pace(one.bike, *map(end_pieces, motions(log_of(one.bike, counts))))
        assert found.speed_m_s.size >= 12
        first = found.speed_m_s[found.t_s < DURATION_S - 3.0]
        second = found.speed_m_s[found.t_s > DURATION_S + 3.0]
        worst.append(max(np.abs(first / speeds[0] - 1).max(), np.abs(second / speeds[1] - 1).max()))
    print(f"\nTen pairs of rides joined: worst piece off by {100 * max(worst):.1f} %")
    assert max(worst) <= 0.05


def test_one_ride_front_another_ride_rear_has_no_speed(rides: list[Ride]) -> None:
    """Two roads of one class at one speed: nothing comes later, so nothing may be claimed."""
    same = of_kind(rides, "stock smooth") + of_kind(rides, "stock rough")
    claimed = tried = 0
    for k, ride in enumerate(same):
        front, rear = end_pieces(ride.front), end_pieces(same[k - 1].rear)
        found = pace(ride.bike, front, rear)
        claimed, tried = claimed + found.speed_m_s.size, tried + found.pieces_tried
        answer = ride_speed(ride.bike, front, rear)
        assert answer is not None
        assert answer.speed_m_s is None
    print(f"\nFront and rear of different roads: a speed claimed in {claimed} of {tried} pieces")
    assert claimed <= 0.02 * tried


def test_dives_and_squats(rides: list[Ride]) -> None:
    """Wanted: braking of 0.3 g and more or driving of 0.2 g and more, 1.2 s and longer from first to last."""
    counts: dict[str, np.ndarray] = {kind: np.zeros(4, dtype=int) for kind in ("dive", "squat")}
    for ride in of_kind(rides, "braking and driving"):
        found = attitude_of(ride)
        shoved = [
            (a.t_s, b.t_s, c.front_n)
            for a, c, b in zip(
                ride.scene.loads[1::4], ride.scene.loads[2::4], ride.scene.loads[4::4], strict=True
            )
        ]
        for kind, spans, sign in (("dive", found.dives, 1), ("squat", found.squats, -1)):
            true = [(start, end) for start, end, size in shoved if sign * size > 0]
            long = [(start, end) for start, end in true if end - start >= 1.2]
            counts[kind] += (
                sum(any(meets(span, each) for each in true) for span in spans),
                len(spans),
                sum(any(meets(span, each) for span in spans) for each in long),
                len(long),
            )
    smooth_running = [ride for ride in rides if ride.kind not in ("braking and driving", "gravel, braking")]
    false_alarms = sum(len(a.dives) + len(a.squats) for a in map(attitude_of, smooth_running))
    print()
    for kind, (right, claimed, found_long, wanted) in counts.items():
        print(
            f"{kind}s: {right} of {claimed} claimed are true (precision {right / claimed:.3f}), "
            f"{found_long} of {wanted} wanted were found (recall {found_long / wanted:.3f})"
        )
    hours = len(smooth_running) * DURATION_S / 3600
    print(f"without braking: {false_alarms} claimed in {hours:.2f} h")
    for right, claimed, found_long, wanted in counts.values():
        assert wanted >= 10
        assert right >= 0.95 * claimed
        assert found_long >= 0.95 * wanted
    assert false_alarms <= 3


def meets(span: Span, shove: tuple[float, float]) -> bool:
    return span.start_s < shove[1] + 0.3 and span.end_s > shove[0]


def test_roughness_is_the_road_s(rides: list[Ride]) -> None:
    """Against the root of class × speed, to which the RMS speed of a linear wheel is proportional.

    The next class at the same speed is twice as rough; bikes and roads should differ by clearly less.
    """
    print("\nRoughness over the root of Gd(n0) × speed, all rides without braking or bumps")
    print("end    kinds                        mean   sd %   least to most")
    for end in End:
        groups: dict[str, Callable[[Ride], bool]] = {
            "stock": lambda ride: ride.kind.startswith("stock"),
            "three times the rebound": lambda ride: ride.kind.startswith("packing"),
            "other bikes": lambda ride: ride.kind == "other bike" and not ride.scene.road.features,
        }
        means = {}
        for name, chosen in groups.items():
            ratios = []
            for ride in filter(chosen, rides):
                found = roughness(ride.motion(end))
                assert found is not None
                ratios.append(
                    found.value / np.sqrt(1e6 * CLASS_GD_M3[ride.road_class] * ride.scene.speed_m_s)
                )
            means[name] = np.mean(ratios)
            print(
                f"{end:<5}  {name:<26} {np.mean(ratios):6.2f} "
                f"{100 * np.std(ratios) / np.mean(ratios):6.1f}   {min(ratios):.2f} to {max(ratios):.2f}"
            )
        assert means["other bikes"] == pytest.approx(means["stock"], rel=0.15)
        assert means["three times the rebound"] == pytest.approx(means["stock"], rel=0.35)
