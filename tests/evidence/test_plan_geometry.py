"""Truth table: 200 random bikes × every kind of lowering, fast formulas against a numerically solved body.

The other side is built independently: two dimensional points in a matrix, turned and shifted by a root finder
until both wheels touch the ground; steering axis, trail and heights are read off the turned points. The lean
is solved in three dimensions with wheels that are tori; the stand with points on a leaning bike; the linkage
by closing its loops with a root finder. Nothing here was tuned: the limits are those of the task (heights
0.1 mm, angles 0.01°, trail 0.1 mm).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import brentq, root

from analysis.cornering import TouchPoint, TravelUnderLoad, WorkDone, lean_at_contact
from analysis.four_bar import RearLinkage, at_shock_length, position, whole_travel
from analysis.link_plates import plate_effect
from analysis.rigid_bike import PlaneBike, Standing, matching_front_mm, stand
from analysis.stand_length import SideStand, lean_on_stand_deg, side_stand_fit, side_stand_length_mm
from ingest.errors import CannotAnswer

SEED, BIKES = 20261125, 200
HEIGHT_MM, ANGLE_DEG, TRAIL_MM = 0.1, 0.01, 0.1

pytestmark = pytest.mark.evidence


@dataclass(frozen=True, kw_only=True)
class Case:
    """A random bike, two places on it, and the state it is asked about."""

    bike: PlaneBike
    seat: tuple[float, float]
    belly: tuple[float, float]
    front_mm: float
    rear_mm: float


def linear_travel(sag_mm: float, load_n: float, rate_n_mm: float, full_mm: float) -> TravelUnderLoad:
    """An end of one wheel rate: deeper by load × (times − 1) / rate, to full bump."""
    return lambda times: min(sag_mm + (times - 1.0) * load_n / rate_n_mm, full_mm)


def cases(seed: int = SEED, count: int = BIKES) -> list[Case]:
    rng = np.random.default_rng(seed)
    return [_case(rng) for _ in range(count)]


def _case(rng: np.random.Generator) -> Case:
    wheelbase, rear_radius = rng.uniform(1350, 1650), rng.uniform(280, 340)
    return Case(
        bike=PlaneBike(
            rake_deg=rng.uniform(22, 30),
            fork_offset_mm=rng.uniform(20, 60),
            wheelbase_mm=wheelbase,
            front_wheel_radius_mm=rng.uniform(290, 360),
            rear_wheel_radius_mm=rear_radius,
            front_travel_mm=rng.uniform(0, 80),
            rear_travel_mm=rng.uniform(0, 80),
            telescopic=bool(rng.random() < 0.75),
            swingarm_pivot_mm=(rng.uniform(500, 620), rear_radius + rng.uniform(40, 180))
            if rng.random() < 0.5
            else None,
        ),
        seat=(rng.uniform(400, 700), rng.uniform(780, 960)),
        belly=(rng.uniform(600, 900), rng.uniform(150, 320)),
        front_mm=rng.uniform(0, 220),
        rear_mm=rng.uniform(0, 220),
    )


def options(case: Case, rng: np.random.Generator) -> Iterator[tuple[str, dict[str, float]]]:
    """Every kind of lowering there is, by random amounts."""
    amount = float(rng.uniform(5, 60))
    front = {"fork_raised_mm" if case.bike.telescopic else "front_axle_up_mm": amount}
    yield "as it is", {}
    yield "front only", front
    yield "rear only", {"rear_axle_up_mm": amount}
    yield "same mm both ends", {**front, "rear_axle_up_mm": amount}
    yield "front to match the rear", {**_matched(case, amount), "rear_axle_up_mm": amount}
    yield "other tyres", {"front_radius_change_mm": -amount / 4, "rear_radius_change_mm": -amount / 3}
    yield "raised back", {name: -value for name, value in front.items()} | {"rear_axle_up_mm": -amount}


def _matched(case: Case, amount: float) -> dict[str, float]:
    now = stand(case.bike, case.front_mm, case.rear_mm)
    front = matching_front_mm(case.bike, now, amount)
    return {"fork_raised_mm" if case.bike.telescopic else "front_axle_up_mm": front}


@dataclass(frozen=True, kw_only=True)
class Solved:
    """The body as the root finder left it."""

    rake_deg: float
    trail_mm: float
    wheelbase_mm: float
    pitch_deg: float
    heights_mm: tuple[float, float]


def solved(case: Case, moves: dict[str, float]) -> Solved:
    """Turn and shift the frame's points until the lowest points of both wheels are at height zero."""
    bike = case.bike
    axis = np.array([-math.sin(math.radians(bike.rake_deg)), math.cos(math.radians(bike.rake_deg))])
    square = np.array([axis[1], -axis[0]])  # ahead, square to the steering axis
    axle = np.array([bike.wheelbase_mm, bike.front_wheel_radius_mm])
    on_axis = axle - bike.fork_offset_mm * square
    slide = moves.get("fork_raised_mm", 0.0)
    up = moves.get("front_axle_up_mm", 0.0)
    if bike.telescopic:
        slide += case.front_mm - bike.front_travel_mm
    else:
        up += case.front_mm - bike.front_travel_mm
    # Out to the steering axis, along it, and back out to the axle, as the fork does it.
    front = on_axis + slide * axis + bike.fork_offset_mm * square + np.array([0.0, up])
    rear = np.array([0.0, bike.rear_wheel_radius_mm])
    rear_up = case.rear_mm - bike.rear_travel_mm + moves.get("rear_axle_up_mm", 0.0)
    if bike.swingarm_pivot_mm is None:
        rear = rear + np.array([0.0, rear_up])
    else:
        rear = _swung(np.array(bike.swingarm_pivot_mm), rear, rear_up)
    radii = (
        bike.rear_wheel_radius_mm + moves.get("rear_radius_change_mm", 0.0),
        bike.front_wheel_radius_mm + moves.get("front_radius_change_mm", 0.0),
    )

    def placed(points: np.ndarray, unknown: np.ndarray) -> np.ndarray:
        c, s = math.cos(unknown[0]), math.sin(unknown[0])
        return points @ np.array([[c, s], [-s, c]]) + np.array([0.0, unknown[1] * 1000])

    def off_ground(unknown: np.ndarray) -> list[float]:
        axles = placed(np.array([rear, front]), unknown)
        return [float(axles[k][1]) - radii[k] for k in (0, 1)]

    unknown = closed(off_ground, [0.0, 0.0])
    axles = placed(np.array([rear, front]), unknown)
    top, foot = placed(np.array([on_axis + 500 * axis, on_axis]), unknown)
    seat, belly = placed(np.array([case.seat, case.belly]), unknown)
    # The steering axis comes from the frame; the axle's offset is measured from it.
    direction = (top - foot) / 500
    shifted = axles[1] - bike.fork_offset_mm * np.array([direction[1], -direction[0]])
    meets = shifted[0] - direction[0] / direction[1] * shifted[1]
    return Solved(
        rake_deg=math.degrees(math.atan2(-direction[0], direction[1])),
        trail_mm=meets - axles[1][0],
        wheelbase_mm=axles[1][0] - axles[0][0],
        pitch_deg=-math.degrees(unknown[0]),
        heights_mm=(float(seat[1]), float(belly[1])),
    )


def _swung(pivot: np.ndarray, axle: np.ndarray, up: float) -> np.ndarray:
    """Turn the swingarm until the axle is as much higher as is wanted."""

    def turned(angle: float) -> np.ndarray:
        c, s = math.cos(angle), math.sin(angle)
        return pivot + np.array([[c, -s], [s, c]]) @ (axle - pivot)

    return turned(brentq(lambda angle: turned(angle)[1] - axle[1] - up, -0.7, 0.7, xtol=1e-14))


def closed(open_by: Callable[[np.ndarray], list[float]], guess: Sequence[float]) -> np.ndarray:
    """Solve until nothing is left over (at the last digit a root finder may complain of no progress)."""
    found = root(open_by, guess, tol=1e-13).x
    assert np.abs(open_by(found)).max() < 1e-8
    return found


def test_standing_bikes_against_a_root_finder() -> None:
    rng = np.random.default_rng(SEED + 1)
    worst: dict[str, np.ndarray] = {}
    asked = 0
    for case in cases():
        for name, moves in options(case, rng):
            fast = stand(case.bike, case.front_mm, case.rear_mm, **moves)
            slow = solved(case, moves)
            heights = [fast.height_mm(*place) for place in (case.seat, case.belly)]
            off = np.abs(
                [
                    heights[0] - slow.heights_mm[0],
                    heights[1] - slow.heights_mm[1],
                    fast.rake_deg - slow.rake_deg,
                    fast.pitch_deg - slow.pitch_deg,
                    fast.trail_mm - slow.trail_mm,
                    fast.wheelbase_mm - slow.wheelbase_mm,
                ]
            )
            worst[name] = np.maximum(worst.get(name, np.zeros(6)), off)
            asked += 1
    print(f"\n{BIKES} bikes, {asked} bikes × options, largest difference")
    print(f"{'option':<26}{'seat mm':>10}{'belly mm':>10}{'rake °':>10}{'pitch °':>10}{'trail mm':>10}")
    for name, off in worst.items():
        print(f"{name:<26}" + "".join(f"{value:>10.1e}" for value in off[:5]))
    largest = np.max(list(worst.values()), axis=0)
    assert asked == 7 * BIKES
    assert largest[:2].max() < HEIGHT_MM
    assert largest[2:4].max() < ANGLE_DEG
    assert largest[4:].max() < TRAIL_MM


def test_equal_vertical_lowering_keeps_the_rake_and_equal_millimetres_do_not() -> None:
    """Lowered 40 mm at the rear. In front: nothing, the same mm, mm / cos(rake), and what matches exactly.

    With the rider aboard, 50 to 90 mm down at both ends. mm / cos(rake) takes the bike for level as it was
    measured; ``matching_front_mm`` also counts the pitch it has by now, and the arc of the swingarm.
    """
    rng = np.random.default_rng(SEED + 6)
    grew: dict[str, list[float]] = {"rear only": [], "same mm": [], "mm / cos(rake)": [], "matched": []}
    trail: dict[str, list[float]] = {name: [] for name in grew}
    for case in cases():
        if not case.bike.telescopic:
            continue
        front_mm, rear_mm = rng.uniform(50, 90, 2)
        before = stand(case.bike, front_mm, rear_mm)
        fronts = {
            "rear only": 0.0,
            "same mm": 40.0,
            "mm / cos(rake)": 40.0 / math.cos(math.radians(before.rake_deg)),
            "matched": matching_front_mm(case.bike, before, 40.0),
        }
        for name, front in fronts.items():
            after = stand(case.bike, front_mm, rear_mm, fork_raised_mm=front, rear_axle_up_mm=40.0)
            grew[name].append(after.rake_deg - before.rake_deg)
            trail[name].append(after.trail_mm - before.trail_mm)
    print(f"\nrear axle 40 mm up, {len(grew['matched'])} bikes with a telescopic fork: change of")
    print(f"{'front':<18}{'rake °, mean':>14}{'largest':>10}{'trail mm, mean':>18}{'largest':>10}")
    for name in grew:
        rakes, trails = np.array(grew[name]), np.array(trail[name])
        print(
            f"{name:<18}{rakes.mean():>14.3f}{np.abs(rakes).max():>10.3f}"
            f"{trails.mean():>18.2f}{np.abs(trails).max():>10.2f}"
        )
    assert np.abs(grew["mm / cos(rake)"]).max() < 0.05
    assert np.abs(grew["matched"]).max() < 1e-9
    assert np.min(grew["same mm"]) > 0.05
    # A lower rear alone: some 1.5° more rake and 10 mm more trail.
    assert np.min(grew["rear only"]) > 1.2
    assert np.min(trail["rear only"]) > 7.0


def test_lean_against_tori_in_three_dimensions() -> None:
    rng = np.random.default_rng(SEED + 2)
    worst, leans = 0.0, []
    for case in cases(SEED + 3, 60):
        point = TouchPoint(
            name="peg",
            x_ahead_of_rear_axle_mm=float(rng.uniform(500, 800)),
            y_mm=float(rng.uniform(280, 420)),
            half_width_mm=float(rng.uniform(230, 340)),
        )
        crowns = (float(rng.uniform(40, 65)), float(rng.uniform(55, 95)))
        ends = (
            (float(rng.uniform(50, 80)), float(rng.uniform(700, 1100)), float(rng.uniform(10, 20)), 230.0),
            (float(rng.uniform(50, 80)), float(rng.uniform(1000, 1700)), float(rng.uniform(12, 28)), 220.0),
        )
        bike = replace(case.bike, telescopic=True, swingarm_pivot_mm=None)
        work = WorkDone(fork_raised_mm=float(rng.uniform(0, 25)), rear_axle_up_mm=float(rng.uniform(0, 25)))
        fast = lean_at_contact(
            bike,
            point,
            front_crown_mm=crowns[0],
            rear_crown_mm=crowns[1],
            front_travel=linear_travel(*ends[0]),
            rear_travel=linear_travel(*ends[1]),
            moved=work,
        )
        if fast.lean_deg is None:
            continue
        leans.append(fast.lean_deg)
        worst = max(worst, abs(fast.lean_deg - _lean_in_space(bike, point, crowns, ends, work)))
    print(f"\nlean at first contact, {len(leans)} bikes, {min(leans):.0f} to {max(leans):.0f}°: ", end="")
    print(f"largest difference {worst:.1e}°")
    assert len(leans) > 50
    assert worst < ANGLE_DEG


End = tuple[float, float, float, float]


def _lean_in_space(
    bike: PlaneBike, point: TouchPoint, crowns: tuple[float, float], ends: tuple[End, End], work: WorkDone
) -> float:
    """Solve lean, pitch, height and both travels at once: forces in balance, tori and point on the ground."""
    rake = math.radians(bike.rake_deg)
    (front_sag, front_n, front_rate, front_full), (rear_sag, rear_n, rear_rate, rear_full) = ends

    def left_over(unknown: np.ndarray) -> list[float]:
        lean, pitch, height, front_mm, rear_mm = unknown * np.array([1, 1, 1000, 100, 100])
        roll = np.array(
            [[1, 0, 0], [0, math.cos(lean), -math.sin(lean)], [0, math.sin(lean), math.cos(lean)]]
        )
        nose = np.array(
            [[math.cos(pitch), 0, -math.sin(pitch)], [0, 1, 0], [math.sin(pitch), 0, math.cos(pitch)]]
        )
        turn = roll @ nose

        def up(x: float, out: float, z: float) -> float:
            return float((turn @ np.array([x, out, z]))[2]) + height

        along = front_mm - bike.front_travel_mm + work.fork_raised_mm
        front = up(
            bike.wheelbase_mm - along * math.sin(rake), 0, bike.front_wheel_radius_mm + along * math.cos(rake)
        )
        rear = up(0, 0, bike.rear_wheel_radius_mm + rear_mm - bike.rear_travel_mm + work.rear_axle_up_mm)
        spin = turn @ np.array([0.0, 1.0, 0.0])
        hoop = math.sqrt(1 - spin[2] ** 2)
        load = 1 / math.cos(lean)
        return [
            front - (bike.front_wheel_radius_mm - crowns[0]) * hoop - crowns[0],
            rear - (bike.rear_wheel_radius_mm - crowns[1]) * hoop - crowns[1],
            up(point.x_ahead_of_rear_axle_mm, -point.half_width_mm, point.y_mm),
            front_mm - min(front_sag + (load - 1) * front_n / front_rate, front_full),
            rear_mm - min(rear_sag + (load - 1) * rear_n / rear_rate, rear_full),
        ]

    return math.degrees(closed(left_over, [0.7, 0.0, -0.05, front_sag / 100, rear_sag / 100])[0])


def test_side_stands_against_points_on_a_leaning_bike() -> None:
    rng = np.random.default_rng(SEED + 4)
    worst_mm = worst_deg = 0.0
    per_mm = []
    for _ in range(BIKES):
        stand_ = SideStand(
            pivot_height_mm=float(rng.uniform(260, 380)),
            pivot_out_mm=float(rng.uniform(80, 180)),
            angle_deg=float(rng.uniform(5, 30)),
            crown_mm=float(rng.uniform(0, 90)),
        )
        lean, drop = float(rng.uniform(8, 15)), float(rng.uniform(10, 50))
        fit = side_stand_fit(stand_, lean, drop)
        lower = replace(stand_, pivot_height_mm=stand_.pivot_height_mm - drop)
        length = brentq(lambda mm: _foot_mm(lower, mm, lean), 20.0, 600.0, xtol=1e-12)  # noqa: B023
        tilted = brentq(lambda deg: _foot_mm(lower, fit.length_before_mm, deg), -40, 60, xtol=1e-12)  # noqa: B023
        worst_mm = max(worst_mm, abs(fit.length_after_mm - length))
        worst_deg = max(worst_deg, abs(fit.lean_unshortened_deg - tilted))
        per_mm.append(fit.shorter_mm / drop)
        back = lean_on_stand_deg(lower, side_stand_length_mm(lower, lean))
        worst_deg = max(worst_deg, abs(back - lean))
    print(
        f"\nside stand, {BIKES} stands: length {worst_mm:.1e} mm, lean {worst_deg:.1e}°; shorter by "
        f"{min(per_mm):.2f} to {max(per_mm):.2f} mm for each mm of drop at the pivot"
    )
    assert worst_mm < HEIGHT_MM
    assert worst_deg < ANGLE_DEG


def _foot_mm(stand_: SideStand, length_mm: float, lean_deg: float) -> float:
    """Height of the foot over the ground: points of the upright bike, turned, set down on the round tyre."""
    lean, angle = math.radians(lean_deg), math.radians(stand_.angle_deg)
    foot = np.array(
        [
            stand_.pivot_out_mm + length_mm * math.sin(angle),
            stand_.pivot_height_mm - length_mm * math.cos(angle),
        ]
    )
    middle_of_tread = np.array([0.0, stand_.crown_mm])
    turn = np.array([[math.cos(lean), math.sin(lean)], [-math.sin(lean), math.cos(lean)]])
    return float((turn @ (foot - middle_of_tread))[1] + stand_.crown_mm)


def linkages(count: int) -> Iterator[tuple[RearLinkage, float]]:
    """Random linkages that go through a stroke of 80 mm, both layouts."""
    rng = np.random.default_rng(SEED + 5)
    found = 0
    while found < count:
        rocker = (rng.uniform(-140, -60), rng.uniform(-170, -90))
        on_swingarm = bool(found % 2)
        end = (rng.uniform(-260, -140), rng.uniform(-90, -10))
        if on_swingarm:
            rocker, end = end, rocker
        linkage = RearLinkage(
            swingarm_pivot_mm=(0.0, 0.0),
            axle_mm=(rng.uniform(-600, -520), rng.uniform(-180, -80)),
            rocker_pivot_mm=rocker,
            rocker_plate_mm=(rocker[0] + rng.uniform(-90, 90), rocker[1] + rng.uniform(-90, 40)),
            rocker_shock_mm=(rocker[0] + rng.uniform(-120, 120), rocker[1] + rng.uniform(-40, 60)),
            plate_end_mm=end,
            shock_mount_mm=(rng.uniform(-160, 0), rng.uniform(130, 200)),
            rocker_on_swingarm=on_swingarm,
        )
        extended = position(linkage, 0.0).shock_mm
        try:
            travel = whole_travel(linkage, extended, 80.0).travel_mm
            whole_travel(replace(linkage, plate_change_mm=4.0), extended, 80.0)
        except CannotAnswer:
            continue
        if 130.0 < travel < 260.0:
            found += 1
            yield linkage, extended


def test_linkages_against_loops_closed_by_a_root_finder() -> None:
    worst_mm = 0.0
    leverages, drops = [], []
    for linkage, extended in linkages(60):
        effect = plate_effect(linkage, 4.0, extended_mm=extended, stroke_mm=80.0, at_stroke_mm=25.0)
        guess, heights = np.zeros(2), []
        for other in (linkage, replace(linkage, plate_change_mm=4.0)):
            guess, height = _closed(other, extended - 25.0, guess)
            heights.append(height)
            worst_mm = max(worst_mm, abs(at_shock_length(other, extended - 25.0).axle_mm[1] - height))
        worst_mm = max(worst_mm, abs(effect.axle_up_mm.value - (heights[1] - heights[0])))
        leverages.append(effect.leverage_before)
        drops.append(abs(effect.axle_up_per_plate_mm))
    print(
        f"\n60 linkages, both layouts, leverage {min(leverages):.1f} to {max(leverages):.1f}, "
        f"{min(drops):.1f} to {max(drops):.1f} mm at the axle per mm of plate: axle within {worst_mm:.1e} mm"
    )
    assert worst_mm < HEIGHT_MM


def _closed(linkage: RearLinkage, shock_mm: float, guess: np.ndarray) -> tuple[np.ndarray, float]:
    """Close plate loop and shock loop at once, for the angles of swingarm and rocker; gives the axle, too."""
    pivot, rocker = complex(*linkage.swingarm_pivot_mm), complex(*linkage.rocker_pivot_mm)
    hole, end = complex(*linkage.rocker_plate_mm), complex(*linkage.plate_end_mm)
    shock, mount = complex(*linkage.rocker_shock_mm), complex(*linkage.shock_mount_mm)
    plate = abs(hole - end) + linkage.plate_change_mm

    def turned(place: complex, about: complex, angle: float) -> complex:
        return about + (place - about) * complex(math.cos(angle), math.sin(angle))

    def open_by(unknown: np.ndarray) -> list[float]:
        arm, rocked = unknown
        if linkage.rocker_on_swingarm:
            centre = turned(rocker, pivot, arm)
            holes = [
                centre + (place - rocker) * complex(math.cos(rocked), math.sin(rocked))
                for place in (hole, shock)
            ]
            other = end
        else:
            holes = [turned(place, rocker, rocked) for place in (hole, shock)]
            other = turned(end, pivot, arm)
        return [abs(holes[0] - other) - plate, abs(holes[1] - mount) - shock_mm]

    angles = closed(open_by, guess)
    return angles, turned(complex(*linkage.axle_mm), pivot, float(angles[0])).imag


def test_a_bike_in_the_measured_state_is_as_measured() -> None:
    for case in cases():
        bike = case.bike
        now: Standing = stand(bike, bike.front_travel_mm, bike.rear_travel_mm)
        assert now.place_mm(*case.seat) == pytest.approx(case.seat, abs=1e-9)
