"""Sag checks of the virtual bike against the balance it would find without friction.

Forty-eight checks that differ in springs, friction, rider, fidgeting, repeats and converter; every third bike
is lowered and described by the stock bike file and a setup, as a shop would. Each is read with marks and
without. Truth is the equilibrium without friction, solved on its own and not simulated.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.results import EndSag, Quantity
from analysis.sag import check_sag
from analysis.virtual_bike import (
    Scene,
    Truth,
    VirtualBike,
    demo_bike,
    lowered,
    record_of,
    sag_scene,
    simulate,
    to_counts,
)
from ingest.log import Channel, Kind, Log, Mark, Segment
from ingest.records import Bike, End, EndSetup, Setup

pytestmark = pytest.mark.evidence

CHECKS = 48
ALLOWED_MM = 0.7


@dataclass(frozen=True)
class Found:
    """One sag of one end: what was read beside what is true."""

    name: str
    marked: bool
    value_mm: float
    doubt_mm: float
    true_mm: float

    @property
    def error_mm(self) -> float:
        return self.value_mm - self.true_mm


def varied(random: np.random.Generator, bike: VirtualBike) -> VirtualBike:
    """The same bike with other springs, preload and friction."""
    front = replace(
        bike.front,
        spring_rate_n_mm=bike.front.spring_rate_n_mm * random.uniform(0.85, 1.15),
        preload_mm=bike.front.preload_mm + random.uniform(-8, 8),
        friction_n=random.uniform(20, 90),
    )
    rear = replace(
        bike.rear,
        spring_rate_n_mm=bike.rear.spring_rate_n_mm * random.uniform(0.85, 1.15),
        preload_mm=bike.rear.preload_mm + random.uniform(-4, 4),
        friction_n=random.uniform(15, 60),
    )
    return replace(bike, front=front, rear=rear)


def described(scene: Scene, bits: int, *, is_lowered: bool) -> tuple[Bike, Setup | None]:
    """The bike file and setup of a scene: the lowered bike is the stock file with a setup."""
    record = record_of(scene.bike, bits)
    if not is_lowered:
        return record, None
    ends = {}
    for end in End:
        suspension = record.suspension(end)
        assert suspension is not None
        ends[str(end)] = EndSetup(travel_mm=suspension.travel_mm, leverage=suspension.leverage)
    return record_of(demo_bike(), bits), Setup(name="lowered", **ends)


def logs_of(scenes: list[Scene], truths: Iterable[Truth]) -> list[tuple[Log, Truth]]:
    pairs = []
    for k, (scene, truth) in enumerate(zip(scenes, truths, strict=True)):
        bits = (10, 12, 16)[k % 3 if k % 2 else 0]
        counts = to_counts(
            truth, record_of(scene.bike, bits), bits, noise_counts=0.5 * 2 ** (bits - 10), seed=k
        )
        bike, setup = described(scene, bits, is_lowered=k % 3 == 2)
        log = Log(
            id=f"check {k}",
            kind=Kind.SAG,
            started="2026-01-01T09:00:00+00:00",
            bike=bike,
            setup=setup,
            channels=(Channel(name="ch0", bits=bits), Channel(name="ch1", bits=bits)),
            segments=(Segment(start_s=0.0, dt_s=truth.dt_s, values=counts),),
            marks=tuple(Mark(t_s=(a + b) / 2, text=text) for a, b, text in truth.phases),
        )
        pairs.append((log, truth))
    return pairs


def found_in(log: Log, truth: Truth, *, marked: bool) -> list[Found]:
    check = check_sag(log if marked else replace(log, marks=()))
    found = []
    for end in End:
        sag = check.front if end is End.FRONT else check.rear
        assert isinstance(sag, EndSag), check.cautions
        for load, quantity, true in (
            ("unladen", sag.unladen_sag_mm, truth.unladen_sag_mm[end]),
            ("rider", sag.rider_sag_mm, truth.rider_sag_mm[end]),
        ):
            assert isinstance(quantity, Quantity), f"{log.id}: {end} {load} not found: {sag.cautions}"
            found.append(Found(f"{end} {load}", marked, quantity.value, quantity.expanded_uncertainty, true))
    return found


def test_sag_is_within_seven_tenths_of_a_millimetre() -> None:
    random = np.random.default_rng(20)
    scenes = [
        sag_scene(
            varied(random, lowered(demo_bike()) if k % 3 == 2 else demo_bike()),
            rider_mass_kg=float(random.uniform(50, 110)),
            repeats=1 + (k % 4 == 3),
            fidget_n=float(random.choice([0.0, 5.0, 10.0])),
            seed=k,
        )
        for k in range(CHECKS)
    ]
    rows = [
        one
        for log, truth in logs_of(scenes, simulate(scenes))
        for marked in (True, False)
        for one in found_in(log, truth, marked=marked)
    ]
    print(f"\nSag against the frictionless equilibrium, {CHECKS} virtual checks, 10 to 16 bits, mm")
    print(f"{'':28}{'checks':>7}{'median |error|':>16}{'largest':>9}{'± median':>10}{'inside ±':>10}")
    for name in dict.fromkeys(row.name for row in rows):
        for marked in (True, False):
            of = [row for row in rows if row.name == name and row.marked == marked]
            errors = np.abs([row.error_mm for row in of])
            inside = np.mean([abs(row.error_mm) <= row.doubt_mm for row in of])
            print(
                f"{name + (', marked' if marked else ', found'):28}{len(of):7d}{np.median(errors):16.2f}"
                f"{errors.max():9.2f}{np.median([row.doubt_mm for row in of]):10.2f}{inside:10.0%}"
            )
    assert max(abs(row.error_mm) for row in rows) <= ALLOWED_MM
    assert np.mean([abs(row.error_mm) <= row.doubt_mm for row in rows]) >= 0.95
