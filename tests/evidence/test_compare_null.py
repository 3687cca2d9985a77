"""Comparisons of rides that differ by chance alone: how often is chance sold as a change?

Three sets, all of the virtual bike with nothing changed, so every *changed* is a false alarm.

a. 400 pairs of 60 s on the same statistical road, each ride on a stretch of its own.
b. 400 more, ridden as people ride: pace ± 5 %, everything on the road ± 15 % higher or lower, dampers that
   have lost 0 to 10 % as they are cold or warm, each drawn anew for every ride.
c. three runs a side: 400 groups drawn from the rides of set a, 400 from those of set b (without replacement
   within a group; a ride serves in several groups), and 20 routes ridden six times as in b, each split in
   all ten ways into three and three.

Nominal: 5 in 100 for the whole family of 16 numbers (Holm); 7.5 in 100 are allowed. What one run a side
cannot know, how two rides of one setup differ, is seen in the column *inside only*: the interval from chance
inside the rides alone, which is too narrow for set b; the one shown by the program leaves room for it.

The limits and allowances were tuned on seeds 50000 to 97000; the seeds here were not looked at before.
Also tried there: bumps and braking at random places instead of one every 3.5 s, with the same outcome
(one run a side 0 of 300; three a side 5.3 % of 300 as in a, 3.7 % as in b).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import combinations
from multiprocessing import get_context

import numpy as np
import pytest

from analysis.change import within_rides
from analysis.compare_results import Metric
from analysis.judging import judge
from analysis.measured_ride import MeasuredRide
from analysis.virtual_bike import Scene, demo_bike, ride_scene
from analysis.virtual_repeats import Variation, another_run, measured_rides
from ingest.records import End

pytestmark = [pytest.mark.evidence, pytest.mark.timeout(1800)]  # five minutes on two idle cores

PAIRS, GROUPS, ROUTES, RUNS = 400, 400, 20, 6
SECONDS = 60.0
BATCH = 64
ALLOWED, COVERED = 0.075, 0.90

Rides = list[MeasuredRide]
Judged = list[tuple[Metric, ...]]


def measured(scenes: Sequence[Scene], first: int) -> Rides:
    """Ride and measure in two processes, 64 scenes in a batch."""
    starts = range(0, len(scenes), BATCH)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        batches = pool.map(
            measured_rides,
            [scenes[k : k + BATCH] for k in starts],
            [first + k for k in starts],
            [(SECONDS,)] * len(starts),
        )
        return [ride for batch in batches for (ride,) in batch]


def stretches(first_seed: int, rides: int, variation: Variation | None = None) -> list[Scene]:
    random = np.random.default_rng(first_seed)
    scenes = [ride_scene(demo_bike(), seed=first_seed + k, duration_s=SECONDS) for k in range(rides)]
    return scenes if variation is None else [another_run(one, random, variation) for one in scenes]


def one_route_each(first_seed: int) -> list[Scene]:
    random = np.random.default_rng(first_seed)
    routes = [ride_scene(demo_bike(), seed=first_seed + k, duration_s=SECONDS) for k in range(ROUTES)]
    return [another_run(route, random, Variation()) for route in routes for _ in range(RUNS)]


def three_a_side(rides: Rides, seed: int) -> Judged:
    random = np.random.default_rng(seed)
    drawn = [random.permutation(len(rides))[:RUNS] for _ in range(GROUPS)]
    return [judged([rides[k] for k in group[:3]], [rides[k] for k in group[3:]]) for group in drawn]


def splits(rides: Rides) -> Iterator[tuple[Metric, ...]]:
    for start in range(0, len(rides), RUNS):
        route = rides[start : start + RUNS]
        for one in combinations(range(1, RUNS), 2):
            side = (0, *one)
            yield judged([route[k] for k in side], [route[k] for k in range(RUNS) if k not in side])


def judged(before: Rides, after: Rides) -> tuple[Metric, ...]:
    return judge(before, after, tuple(End))


def inside_only(pairs: Sequence[tuple[MeasuredRide, MeasuredRide]], name: str) -> float | None:
    """How often the interval from chance inside both rides alone would cover no change."""
    end, _, number = name.partition("_")
    covers = []
    for before, after in pairs:
        one, other = before.ends[End(end)], after.ends[End(end)]
        if number not in one.spread or number not in other.spread:
            return None
        change = getattr(other.ride, number, None)
        if change is None:
            direction, _, _ = number.partition("_")
            speeds = [getattr(each.ride, f"{direction}_speed_mm_s").p95 for each in (one, other)]
            change = speeds[1] - speeds[0]
        else:
            change -= getattr(one.ride, number)
        found = within_rides(change, [one.spread[number]], [other.spread[number]])
        if found is not None:
            covers.append(found.ci95[0] <= 0 <= found.ci95[1])
    return float(np.mean(covers))


def covered(found: Judged, k: int) -> float:
    intervals = [one[k].ci95 for one in found]
    return float(np.mean([ci is not None and ci[0] <= 0 <= ci[1] for ci in intervals]))


def alarms(found: Judged) -> float:
    return float(np.mean([any(metric.changed for metric in one) for one in found]))


def print_tables(sets: dict[str, Judged], inside: Sequence[float | None]) -> None:
    names = list(sets)
    print("\n" + " " * 29 + "".join(f"{name:>21}" for name in names) + "   b 1, inside only")
    print(" " * 29 + "".join(f"{'covers':>8}{'half':>8}{'false':>5}" for _ in names))
    for k, metric in enumerate(sets[names[0]][0]):
        cells = []
        for found in sets.values():
            if metric.ci95 is None:
                cells.append(f"{'one moment':>16}{sum(one[k].changed for one in found):5d}")
                continue
            half = np.mean([(ci[1] - ci[0]) / 2 for one in found if (ci := one[k].ci95) is not None])
            false = sum(one[k].changed for one in found)
            cells.append(f"{covered(found, k):8.1%}{half:8.2f}{false:5d}")
        alone = inside[k]
        print(f"{metric.name:29}" + "".join(cells) + ("" if alone is None else f"{alone:14.1%}"))
    print(f"{'any changed':29}" + "".join(f"{alarms(found):21.1%}" for found in sets.values()))
    print(f"{'of':29}" + "".join(f"{len(found):21d}" for found in sets.values()))


def test_chance_is_not_sold_as_a_change() -> None:
    a = measured(stretches(200_000, 2 * PAIRS), 0)
    b = measured(stretches(300_000, 2 * PAIRS, Variation()), 10_000)
    routes = measured(one_route_each(400_000), 20_000)
    pairs = [(b[2 * k], b[2 * k + 1]) for k in range(PAIRS)]
    sets = {
        "a, 1 a side": [judged([a[2 * k]], [a[2 * k + 1]]) for k in range(PAIRS)],
        "b, 1 a side": [judged([one], [other]) for one, other in pairs],
        "c, 3 a side of a": three_a_side(a, 1),
        "c, 3 a side of b": three_a_side(b, 2),
        "c, 3 a side, 1 route": list(splits(routes)),
    }
    inside = [inside_only(pairs, metric.name) for metric in sets["b, 1 a side"][0]]
    print_tables(sets, inside)
    for name, found in sets.items():
        assert alarms(found) <= ALLOWED, name
        for k, metric in enumerate(found[0]):
            if metric.ci95 is not None:
                assert covered(found, k) >= COVERED, (name, metric.name)
