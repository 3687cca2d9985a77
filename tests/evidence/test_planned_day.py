"""Does a planned test day see what it was planned to see? On the virtual bike, the change put in by hand.

Sixty one-minute rides of one setup, each on its own stretch of the same kind of road. Planned is the change
that three, four or five runs a side of one minute should find four times in five. Then runs are drawn at
random for both sides, the change is added to one of them, and the comparison judges: the share it finds is
the figure. Nothing was tuned on these rides; the plan is `analysis.test_day` as it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.change import LEVEL
from analysis.judging import judge, of_end
from analysis.measured_ride import MeasuredRide, measure
from analysis.metrics import KINDS
from analysis.motion import end_motion
from analysis.played_comparison import seen_chance, share_found
from analysis.ride import summarise_ride
from analysis.test_day import SEEN, plan_from
from analysis.virtual_bike import demo_bike, record_of, ride_scene, simulate, to_counts
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import End

pytestmark = pytest.mark.evidence

RIDES, RIDE_S = 60, 60.0
DRAWS = 120
METRICS = ("mean_mm", "p95_mm")
RUNS = (3, 4, 5)
FAMILY = 16  # eight numbers an end


def ridden() -> list[MeasuredRide]:
    bike = demo_bike()
    record = record_of(bike)
    scenes = [ride_scene(bike, seed=61_000 + k, duration_s=RIDE_S) for k in range(RIDES)]
    measured = []
    for k, truth in enumerate(simulate(scenes, rate_hz=500.0, step_hz=2000.0)):
        log = Log(
            id=f"ride {k}",
            kind=Kind.RIDE,
            started="",
            bike=record,
            channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
            segments=(Segment(start_s=0.0, dt_s=truth.dt_s, values=to_counts(truth, record, seed=k)),),
        )
        motions = {end: motion for end in End if (motion := end_motion(log, end)) is not None}
        measured.append(measure(summarise_ride(log, motions=motions), motions))
    return measured


def changed(rides: Sequence[MeasuredRide], end: End, name: str, change: float) -> list[MeasuredRide]:
    """Add a change to one number of each ride."""
    return [
        replace(
            one,
            ends={
                **one.ends,
                end: replace(
                    one.ends[end],
                    ride=replace(one.ends[end].ride, **{name: getattr(one.ends[end].ride, name) + change}),
                ),
            },
        )
        for one in rides
    ]


def size_for(rides: Sequence[MeasuredRide], end: End, name: str, runs: int) -> float:
    """Find the smallest change for which one minute a run does, and hold the plan to it."""
    chance = seen_chance(of_end(rides, end), next(kind for kind in KINDS if kind.name == name))
    small, large = 0.0, 40 * float(np.hypot(chance.inside, chance.between))
    while large - small > 0.01 * large:
        middle = (small + large) / 2
        enough = share_found(chance, runs, RIDE_S / 60, middle, LEVEL / FAMILY) >= SEEN
        small, large = (small, middle) if enough else (middle, large)
    assert dict(plan_from(rides, f"{end}_{name}", large).options)[runs] == RIDE_S / 60
    return large


def test_a_planned_change_is_found() -> None:
    rides = ridden()
    random = np.random.default_rng(7)
    print(
        f"\n{RIDES} rides of one minute; {DRAWS} planned comparisons a line, one change of one number put in"
    )
    print(f"{'number':18}{'runs a side':>12}{'change planned for':>20}{'found':>8}{'found of no change':>20}")
    shares = []
    for end in End:
        for name in METRICS:
            for runs in RUNS:
                size = size_for(rides, end, name, runs)
                found = none = 0
                for _ in range(DRAWS):
                    drawn = [rides[k] for k in random.choice(RIDES, 2 * runs, replace=False)]
                    for change in (size, 0.0):
                        metrics = judge(drawn[:runs], changed(drawn[runs:], end, name, change), tuple(End))
                        seen = next(one.changed for one in metrics if one.name == f"{end}_{name}")
                        found, none = (found + seen, none) if change else (found, none + seen)
                shares.append(found / DRAWS)
                print(
                    f"{f'{end}_{name}':18}{runs:12d}{size:17.1f} mm{found / DRAWS:8.0%}{none / DRAWS:20.1%}"
                )
    print(f"all: {np.mean(shares):.0%}")
    assert 0.70 <= np.mean(shares) <= 0.90
    assert min(shares) >= 0.60
