"""The virtual bike lowered by each means against what the plan foretold: does its interval hold the truth?

Each case is a bike at random (springs 0.75 to 1.25 of the demo bike's, preload, rider of 50 to 115 kg, in
half of them the air above the fork oil not written down) whose rider sag was read with an error of its own.
The plan is made from the bike file: printed spring rates are off by 2 % (one standard deviation), preload by
up to 1 mm. The bike is then changed as the plan says: collars turned, springs of the stated rate fitted,
spacers, a shorter shock, other plates whose true leverage is off by 3 %. Truth is the balance without
friction and the travel of the changed parts, worked out by the virtual bike and not by the plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from analysis.four_bar import RearLinkage, position
from analysis.how_much import SagNow
from analysis.link_plates import plate_effect
from analysis.plan import PlanRequest, plan
from analysis.plan_results import EndPlan, Option
from analysis.results import Quantity
from analysis.ride import summarise_ride
from analysis.virtual_counts import record_of
from analysis.virtual_demo import demo_bike, ride_scene
from analysis.virtual_parts import VirtualBike, VirtualEnd
from analysis.virtual_sim import simulate
from analysis.wanted import from_stack
from ingest.chassis import LinkagePoints, Plates
from ingest.log import Channel, Kind, Log, Segment, Unit
from ingest.records import Bike, End

pytestmark = pytest.mark.evidence

CASES, SEED = 100, 4091
SAG_U_MM = 1.0


@dataclass(frozen=True)
class Case:
    true: VirtualBike
    file: Bike
    rider_kg: float
    sags: Mapping[End, SagNow]


@dataclass(frozen=True)
class Found:
    means: str
    sag_error_mm: float
    sag_doubt_mm: float
    travel_error_mm: float
    travel_doubt_mm: float


def case_of(random: np.random.Generator) -> Case:
    bike = demo_bike()
    front, rear = (
        replace(
            end,
            spring_rate_n_mm=end.spring_rate_n_mm * random.uniform(0.75, 1.25),
            preload_mm=end.preload_mm + random.uniform(-spread, spread),
        )
        for end, spread in ((bike.front, 6.0), (bike.rear, 3.0))
    )
    true = replace(bike, front=front, rear=rear)
    rider_kg = float(random.uniform(50.0, 115.0))
    written = record_of(true)
    ends = {}
    for end, part in zip(End, true.ends, strict=True):
        suspension = written.suspension(end)
        assert suspension is not None
        air = part.air if random.random() < 0.5 else None
        ends[end] = replace(
            suspension,
            spring_rate_n_mm=part.spring_rate_n_mm * (1 + random.normal(0.0, 0.02)),
            preload_mm=part.preload_mm + random.uniform(-1.0, 1.0),
            air_area_mm2=None if air is None else air.area_mm2,
            air_column_mm=None if air is None else air.column_mm,
            full_bump_room_mm=90.0,
        )
    sags = {
        end: SagNow(
            rider=Quantity(
                value=mm + random.normal(0.0, SAG_U_MM),
                expanded_uncertainty=1.96 * SAG_U_MM,
                coverage_factor=1.96,
            )
        )
        for end, mm in true.sag_mm(rider_kg).items()
    }
    return Case(
        true=true,
        file=replace(written, front=ends[End.FRONT], rear=ends[End.REAR]),
        rider_kg=rider_kg,
        sags=sags,
    )


def shifted(end: VirtualEnd, shorter_mm: float, *, same_stroke: bool) -> VirtualEnd:
    """The true end with its shock shorter by so much, from its own curve."""
    assert end.leverage is not None
    wheel, stroke = np.array(end.leverage).T
    curve = PchipInterpolator(wheel, stroke)
    last = float(curve.derivative()(wheel[-1]))

    def at(place_mm: float) -> float:
        inside = min(place_mm, float(wheel[-1]))
        return float(curve(inside)) + last * (place_mm - inside)

    hang = float(brentq(lambda mm: at(mm) - shorter_mm, 0.0, float(wheel[-1])))
    full = float(stroke[-1]) + (shorter_mm if same_stroke else 0.0)
    top = float(brentq(lambda mm: at(mm) - full, 0.0, 2 * float(wheel[-1])))
    rows = np.linspace(hang, top, 60)
    table = tuple((float(mm - hang), at(float(mm)) - shorter_mm) for mm in rows)
    return replace(end, travel_mm=top - hang, leverage=((0.0, 0.0), *table[1:]))


def done(case: Case, end: End, option: Option, random: np.random.Generator) -> VirtualEnd | None:
    """Change the true end as the plan says; ``None`` where the plan leaves the spring open."""
    part = case.true.front if end is End.FRONT else case.true.rear
    told: EndPlan = option.front if end is End.FRONT else option.rear
    if told.spring_word != "fits" or told.preload_mm is None or told.preload_now_mm is None:
        return None
    means, amount = told.means, told.amount_mm or 0.0
    turned = part.preload_mm + told.preload_mm.value - told.preload_now_mm
    anew = told.preload_mm.value + float(random.uniform(-1.0, 1.0))
    if "spacers" in means:
        assert part.air is not None
        spacer = (told.travel_now_mm or 0.0) - (told.travel_mm or 0.0)
        air = replace(part.air, column_mm=part.air.column_mm - spacer)
        return replace(part, travel_mm=part.travel_mm - spacer, air=air, preload_mm=anew)
    if "shock" in means:
        same = "the same stroke" in means
        return replace(shifted(part, amount, same_stroke=same), preload_mm=anew)
    if "spring" in means:
        assert told.spring_rate_n_mm is not None
        rate = told.spring_rate_n_mm * (1 + float(random.normal(0.0, 0.02)))
        return replace(part, spring_rate_n_mm=rate, preload_mm=anew)
    if "plates" in means:
        assert part.leverage is not None
        more = 1 + float(random.normal(0.0, 0.03))
        table = tuple((wheel * more, stroke) for wheel, stroke in part.leverage)
        return replace(part, travel_mm=part.travel_mm * more, leverage=table, preload_mm=turned)
    return replace(part, preload_mm=turned)


def word(means: str) -> str:
    for known in ("raised", "spacers", "same stroke", "less stroke", "lowering spring", "spring", "plates"):
        if known in means:
            return known
    return "sag only"


def found_in(case: Case, random: np.random.Generator) -> list[Found]:
    lowered = plan(PlanRequest(bike=case.file, wanted=from_stack(random.uniform(40, 75)), sags=case.sags))
    loads = dict(zip(End, case.true.body_weights_n(case.rider_kg), strict=True))
    rows = []
    for option in lowered.options:
        for end, told in ((End.FRONT, option.front), (End.REAR, option.rear)):
            changed = done(case, end, option, random)
            if changed is None or told.rider_sag_mm is None:
                continue
            true_sag = changed.equilibrium_mm(loads[end])
            rows.append(
                Found(
                    means=f"{end}: {word(told.means)}",
                    sag_error_mm=told.rider_sag_mm.value - true_sag,
                    sag_doubt_mm=told.rider_sag_mm.expanded_uncertainty,
                    travel_error_mm=(told.travel_mm or 0.0) - changed.travel_mm,
                    travel_doubt_mm=told.travel_doubt_mm or 0.0,
                )
            )
    return rows


def test_sag_and_travel_are_as_the_plan_foretold() -> None:
    random = np.random.default_rng(SEED)
    rows = [row for _ in range(CASES) for row in found_in(case_of(random), random)]
    by_means = defaultdict(list)
    for row in rows:
        by_means[row.means].append(row)
    print("\nmeans                   n     sag inside  median error  median ±   travel inside  largest error")
    for means, some in sorted(by_means.items()):
        errors = np.abs([row.sag_error_mm for row in some])
        inside = np.mean([abs(row.sag_error_mm) <= row.sag_doubt_mm for row in some])
        travel = np.mean([abs(row.travel_error_mm) <= row.travel_doubt_mm + 1e-6 for row in some])
        worst = max(abs(row.travel_error_mm) for row in some)
        doubt = np.median([row.sag_doubt_mm for row in some])
        print(
            f"{means:22s} {len(some):4d}   {100 * inside:5.1f} %      {np.median(errors):5.2f} mm      "
            f"{doubt:5.2f} mm   {100 * travel:5.1f} %        {worst:5.2f} mm"
        )
        if len(some) >= 80:
            assert inside >= 0.90, means
            assert travel >= 0.90, means
    everything = np.mean([abs(row.sag_error_mm) <= row.sag_doubt_mm for row in rows])
    print(f"all {len(rows)}: sag inside {100 * everything:.1f} %")
    assert everything >= 0.93
    assert len(by_means) >= 10


# ------------------------------------------------------------------------------- travel used on a ride


RIDER_KG, RIDE_S = 80.0, 20.0


def a_log(front_mm: np.ndarray, rear_mm: np.ndarray, bike: Bike) -> Log:
    return Log(
        id="ride",
        kind=Kind.RIDE,
        started="2026-01-01T09:00:00+00:00",
        bike=bike,
        channels=tuple(Channel(name=f"{end}_mm", unit=Unit.WHEEL_MM) for end in End),
        segments=(Segment(start_s=0.0, dt_s=0.001, values=np.column_stack([front_mm, rear_mm])),),
    )


def lowered_by(case: Case, option: Option, random: np.random.Generator) -> VirtualBike | None:
    parts = {end: done(case, end, option, random) for end in End}
    front, rear = parts[End.FRONT], parts[End.REAR]
    return None if front is None or rear is None else replace(case.true, front=front, rear=rear)


def test_travel_used_is_about_what_the_plan_expects() -> None:
    """Rides of 20 s on two roads, before and after, on springs that fit; the plan says ± 10 % of travel."""
    random = np.random.default_rng(SEED)
    soft = replace(demo_bike(), front=replace(demo_bike().front, spring_rate_n_mm=11.0))
    soft = replace(soft, rear=replace(soft.rear, spring_rate_n_mm=85.0))
    file = record_of(soft)
    rooms = {}
    for end in End:
        suspension = file.suspension(end)
        assert suspension is not None
        rooms[str(end)] = replace(suspension, full_bump_room_mm=90.0)
    file = replace(file, **rooms)
    sags = {
        end: SagNow(rider=Quantity(value=mm, expanded_uncertainty=1.0, coverage_factor=1.96))
        for end, mm in soft.sag_mm(RIDER_KG).items()
    }
    case = Case(true=soft, file=file, rider_kg=RIDER_KG, sags=sags)
    seeds = (11, 12)
    before = simulate([ride_scene(soft, RIDER_KG, seed, RIDE_S) for seed in seeds])
    scenes, expected = [], []
    for seed, truth in zip(seeds, before, strict=True):
        ride = summarise_ride(a_log(truth.front_mm, truth.rear_mm, file))
        found = plan(PlanRequest(bike=file, wanted=from_stack(45.0), sags=sags, ride=ride))
        for option in found.options:
            bike = lowered_by(case, option, random)
            if bike is not None and option.kind in ("preload", "plates", "shock", "lowering springs"):
                scenes.append(ride_scene(bike, RIDER_KG, seed, RIDE_S))
                expected.append(option)
    assert len(scenes) >= 12
    misses = []
    for option, truth in zip(expected, simulate(scenes), strict=True):
        for told, deepest in ((option.front, truth.front_max_mm), (option.rear, truth.rear_max_mm)):
            assert told.deepest_expected_mm is not None
            assert told.deepest_doubt_mm is not None
            # A stop gives a little, and what would go past it ends there.
            capped = min(told.deepest_expected_mm, (told.travel_mm or 0.0) + 3.0)
            misses.append((capped - deepest) / told.deepest_doubt_mm)
    inside = float(np.mean(np.abs(misses) <= 1.0))
    print(
        f"\ndeepest moment, {len(misses)} ends of rides: {100 * inside:.0f} % within ± 10 % of travel, ",
        end="",
    )
    print(f"median error {100 * 0.1 * float(np.median(np.abs(misses))):.1f} % of travel")
    assert inside >= 0.9


# ----------------------------------------------------------------------- plates on measured pivots


PLACES = RearLinkage(
    swingarm_pivot_mm=(0, 0),
    axle_mm=(-560, -150),
    rocker_pivot_mm=(-84, -135),
    rocker_plate_mm=(-149, -163),
    rocker_shock_mm=(-169, -138),
    plate_end_mm=(-188, -44),
    shock_mount_mm=(-93, 154),
)
STROKE_MM, PLATES_MM, PLACE_U_MM = 92.0, 4.0, 1.0


def measured_points(random: np.random.Generator) -> LinkagePoints:
    def near(place: tuple[float, float]) -> tuple[float, float]:
        return place[0] + random.normal(0.0, PLACE_U_MM), place[1] + random.normal(0.0, PLACE_U_MM)

    return LinkagePoints(
        rocker_on="frame",
        rear_axle=near(PLACES.axle_mm),
        rocker_pivot=near(PLACES.rocker_pivot_mm),
        plate_at_rocker=near(PLACES.rocker_plate_mm),
        plate_at_other_end=near(PLACES.plate_end_mm),
        shock_at_rocker=near(PLACES.rocker_shock_mm),
        shock_at_frame=near(PLACES.shock_mount_mm),
    )


def test_plates_on_pivots_measured_to_a_millimetre() -> None:
    """Longer plates by the four-bar of pivots that are each off by 1 mm (one standard deviation)."""
    random = np.random.default_rng(SEED)
    extended = position(PLACES, 0.0).shock_mm
    effect = plate_effect(PLACES, PLATES_MM, extended_mm=extended, stroke_mm=STROKE_MM, at_stroke_mm=26.0)
    stock, after = effect.before.leverage.table, effect.after.leverage.table
    assert stock is not None
    assert after is not None
    sags, travels, drops = [], [], []
    for _ in range(50):
        case = case_of(random)
        rear = replace(case.true.rear, leverage=stock, travel_mm=effect.before.travel_mm)
        assert case.file.rear is not None
        written = replace(
            case.file.rear,
            leverage=effect.before.leverage,
            travel_mm=effect.before.travel_mm,
            linkage=measured_points(random),
            shock_stroke_mm=STROKE_MM,
            plates=(Plates(name="longer", longer_mm=PLATES_MM),),
        )
        load = case.true.body_weights_n(case.rider_kg)[1]
        rider = Quantity(
            value=rear.equilibrium_mm(load) + random.normal(0.0, SAG_U_MM),
            expanded_uncertainty=1.96 * SAG_U_MM,
            coverage_factor=1.96,
        )
        request = PlanRequest(
            bike=replace(case.file, rear=written),
            wanted=from_stack(60.0),
            sags={**case.sags, End.REAR: SagNow(rider=rider)},
        )
        told = next(one.rear for one in plan(request).options if one.kind == "rear only")
        if told.preload_mm is None or told.preload_now_mm is None or told.rider_sag_mm is None:
            continue
        turned = rear.preload_mm + told.preload_mm.value - told.preload_now_mm
        true = replace(rear, leverage=after, travel_mm=effect.after.travel_mm, preload_mm=turned)
        sag_error = told.rider_sag_mm.value - true.equilibrium_mm(load)
        sags.append(abs(sag_error) <= told.rider_sag_mm.expanded_uncertainty)
        travels.append(abs((told.travel_mm or 0.0) - true.travel_mm) <= (told.travel_doubt_mm or 0.0))
        drops.append((told.full_bump_up_mm or 0.0) - effect.axle_up_at_full_bump_mm)
    print(
        f"\nplates on measured pivots, {len(sags)}: sag inside {100 * np.mean(sags):.0f} %, travel inside "
        f"{100 * np.mean(travels):.0f} %, wheel at full bump off by {np.std(drops):.1f} mm (one sd) of "
        f"{effect.axle_up_at_full_bump_mm:.0f} mm"
    )
    assert len(sags) >= 25
    assert np.mean(sags) >= 0.88
    assert np.mean(travels) >= 0.88
