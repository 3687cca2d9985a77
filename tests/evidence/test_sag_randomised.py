"""Five hundred sag checks drawn at random, each read with marks and without, against the true balance.

The checks are played by statics (`analysis.virtual_shop` says what is drawn), and the statics are held to the
full simulation here. The truth is not drawn from the budget's assumptions: friction is uneven by a normal
share and varies from one settling to the next, sensors are bowed and have play, nothing of which the budget
knows by its size; the mass carries a bike that is let down a little further, which it does not know at all.
What the budget does judge (how evenly friction holds, how the rider sits) is of the same order as what is
drawn, as it must be for an interval to hold its truth 95 times in 100 and not always.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from analysis.sag import reckon
from analysis.virtual_bike import demo_bike, lowered, sag_scene, simulate
from analysis.virtual_hands import usual_steps
from analysis.virtual_shop import random_shop, take_check
from analysis.virtual_statics import handled_scene
from ingest.records import End

pytestmark = pytest.mark.evidence

CHECKS = 500
SAME_MM = 1.0


@dataclass(frozen=True)
class Row:
    """One sag of one end beside its truth, and what the check was like."""

    end: End
    load: str
    marked: bool
    error_mm: float
    doubt_mm: float
    difference_mm: float
    repeats: int
    points: int
    bits: int
    check: int

    @property
    def held(self) -> bool:
        return abs(self.error_mm) <= self.doubt_mm


@cache
def rows() -> tuple[tuple[Row, ...], int]:
    """All sags that were found, and in how many checks without marks everything was found as it was done."""
    random = np.random.default_rng(1500)
    taken: list[Row] = []
    as_done = 0
    for number in range(CHECKS):
        shop, repeats = random_shop(random), 1 + number % 4
        steps = usual_steps(repeats, together=random.random() < 0.7, in_rounds=random.random() < 0.5)
        check = take_check(shop, steps, random)
        values: dict[tuple[bool, End, str], float] = {}
        sides: dict[bool, int] = {}
        for marked in (True, False):
            log = check.log if marked else replace(check.log, marks=())
            work, _ = reckon(log, log.bike)
            both = 0
            for end in End:
                for load, found, true in (
                    ("unladen", work[end].unladen, check.unladen_mm[end]),
                    ("rider", work[end].rider, check.rider_mm[end]),
                ):
                    if found is None:
                        continue
                    both += found.half_band_mm is not None
                    quantity = found.quantity
                    values[marked, end, load] = quantity.value
                    taken.append(
                        Row(
                            end, load, marked, quantity.value - true, quantity.expanded_uncertainty,
                            shop.difference_mm[end], repeats, shop.points, shop.bits, number,
                        )
                    )  # fmt: skip
            sides[marked] = both
        same = all(
            abs(values.get((True, end, load), np.inf) - values.get((False, end, load), -np.inf)) <= SAME_MM
            for end in End
            for load in ("unladen", "rider")
        )
        as_done += same and sides[False] == 4
    return tuple(taken), as_done


def cells() -> Iterator[tuple[str, list[Row]]]:
    """Every way the checks are sorted, each cell with its name."""
    taken, _ = rows()
    sorts: dict[str, Callable[[Row], object]] = {
        "bits": lambda row: row.bits,
        "repeats": lambda row: row.repeats,
        "points": lambda row: {2: "2", 3: "3", 4: "4 to 6", 5: "4 to 6", 6: "4 to 6"}.get(
            row.points, "7 to 9"
        ),
        "difference mm": lambda row: (
            "2 to 6" if row.difference_mm <= 6 else "6 to 9" if row.difference_mm <= 9 else "9 to 12"
        ),
        "marks": lambda row: "with" if row.marked else "without",
    }
    for sort, key in sorts.items():
        for value in sorted({str(key(row)) for row in taken}):
            for load in ("unladen", "rider"):
                yield (
                    f"{load}, {sort} {value}",
                    [row for row in taken if row.load == load and str(key(row)) == value],
                )


def line(name: str, of: list[Row]) -> str:
    errors = np.abs([row.error_mm for row in of])
    return (
        f"{name:32}{len(of):6d}{np.median(errors):12.2f}{np.quantile(errors, 0.95):8.2f}"
        f"{np.median([row.doubt_mm for row in of]):11.2f}{np.mean([row.held for row in of]):10.1%}"
    )


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    taken, as_done = rows()
    print(f"\n{CHECKS} sag checks drawn at random, each with marks and without; mm")
    print(f"{'':32}{'sags':>6}{'median |e|':>12}{'95 %':>8}{'± median':>11}{'inside ±':>10}")
    pooled = {
        f"{end} {load}": [row for row in taken if row.end is end and row.load == load]
        for end in End
        for load in ("unladen", "rider")
    }
    for name, of in pooled.items():
        print(line(name, of))
    print()
    for name, of in cells():
        print(line(name, of))
    print(f"\nwithout marks, everything found as it was done: {as_done} of {CHECKS} checks")
    assert len(taken) == CHECKS * 8
    for name, of in pooled.items():
        assert 0.924 <= np.mean([row.held for row in of]) <= 0.974, name
        assert np.median([row.doubt_mm for row in of]) <= 1.5, name
    for name, of in cells():
        if len(of) >= 125:
            assert np.mean([row.held for row in of]) >= 0.88, name


def test_errors_stay_small_beside_friction() -> None:
    taken, _ = rows()
    little = [abs(row.error_mm) for row in taken if row.difference_mm <= 6]
    much = [abs(row.error_mm) for row in taken if row.difference_mm >= 10]
    print(f"\nmedian error at a difference up to 6 mm: {np.median(little):.2f} mm")
    print(f"median error at a difference of 10 to 12 mm: {np.median(much):.2f} mm")
    assert np.median(little) <= 0.3
    assert np.median(much) <= 0.8


def test_phases_are_found_without_marks() -> None:
    _, as_done = rows()
    assert as_done / CHECKS >= 0.99


def test_statics_rest_where_the_full_simulation_rests() -> None:
    stiff = replace(
        demo_bike(),
        front=replace(demo_bike().front, friction_n=100),
        rear=replace(demo_bike().rear, friction_n=80),
    )
    cases = ((demo_bike(), 58.0), (stiff, 95.0), (lowered(demo_bike()), 80.0))
    scenes = [sag_scene(bike, rider_kg) for bike, rider_kg in cases]
    worst = 0.0
    for scene, truth in zip(scenes, simulate(scenes, rate_hz=200), strict=True):
        for travel, end in zip(handled_scene(scene), End, strict=True):
            for start, stop, _ in scene.phases:
                still = np.median(travel[round(start * 50) : round(stop * 50)])
                full = np.median(truth.travel_mm(end)[round(start * 200) : round(stop * 200)])
                worst = max(worst, abs(float(still - full)))
    print(f"\nstatics against the full simulation, {len(scenes)} checks: at most {worst:.2f} mm apart")
    assert worst <= 0.2
