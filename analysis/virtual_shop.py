"""Sag checks as a shop might take them, at random: bike, friction, rider, hands, sensors, calibration.

Each is quick to make (`analysis.virtual_statics`) and knows its truth: the balance without friction. What is
drawn here is not what the budget of a sag assumes. Friction is uneven by a normal, not a rectangular, share
and grows with the load; sensors are bowed and have play; calibration points carry the errors of a tape or of
gauge blocks and of whole counts; springs are not quite what is printed on them. Leverage is exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from analysis.virtual_counts import record_of
from analysis.virtual_demo import demo_bike, lowered
from analysis.virtual_hands import STEP_S, Handling, Hands, Step
from analysis.virtual_parts import VirtualBike, VirtualEnd
from analysis.virtual_statics import DryFriction, handled_mm
from ingest.log import Channel, Kind, Log, Mark, Segment
from ingest.records import Bike, End, Rider, Sensor, Suspension

Floats = npt.NDArray[np.float64]

RATE_HZ = 200.0
SENSOR_MM = {End.FRONT: 250.0, End.REAR: 100.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class VirtualSensor:
    """What a sensor truly does. ``bow_mm`` is how far it leaves the straight line, in a wave of its own.

    ``play_mm`` is the play of its joints: turning round, it stays behind by so much.
    """

    range_mm: float
    first_count: float
    counts_per_mm: float
    topped_out_at_mm: float
    bow_mm: float
    waves: float
    play_mm: float
    noise_counts: float

    def followed(self, place_mm: Floats) -> Floats:
        """Give where the sensor's rod is while its joints are moved: behind by half the play."""
        half, at = self.play_mm / 2, float(place_mm[0])
        places = []
        for place in place_mm.tolist():
            at = min(max(at, place - half), place + half)
            places.append(at)
        return np.array(places)

    def counts(self, place_mm: Floats) -> Floats:
        """Give the reading, unrounded and without noise, at places of its own stroke."""
        bow = self.bow_mm * np.sin(2 * np.pi * self.waves * place_mm / self.range_mm)
        return np.asarray(self.first_count + self.counts_per_mm * (place_mm + bow))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """One check before it is taken. ``difference_mm`` is how much deeper from below reads than from above.

    ``reference_mm`` is the standard deviation of a calibration position, ``covers`` the share of the
    sensor's stroke that was calibrated.
    """

    bike: VirtualBike
    rider_kg: float
    bits: int
    points: int
    difference_mm: Mapping[End, float]
    friction: Mapping[End, DryFriction]
    sensors: Mapping[End, VirtualSensor]
    reference_mm: float
    sway_n: float
    covers: Mapping[End, tuple[float, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Check:
    """A recorded check, marked, with the sags that are true and when each step was read."""

    shop: Shop
    log: Log
    spans: tuple[tuple[float, float, Step], ...]
    unladen_mm: Mapping[End, float]
    rider_mm: Mapping[End, float]


def random_shop(random: np.random.Generator) -> Shop:
    """Draw a bike, its rider and its sensors."""
    bike = lowered(demo_bike()) if random.random() < 0.3 else demo_bike()
    bike = replace(bike, front=_varied(random, bike.front, 6.0), rear=_varied(random, bike.rear, 3.0))
    rider_kg = float(random.uniform(50, 115))
    loads = dict(zip(End, bike.body_weights_n(rider_kg), strict=True))
    ends = dict(zip(End, bike.ends, strict=True))
    # Friction near the unladen sag keeps a bike that is let down topped out: nothing to measure then.
    most = {end: max(2.0, 2 * (sag_mm - 3.5)) for end, sag_mm in bike.sag_mm(0.0).items()}
    difference = {end: min(float(random.uniform(2, 12)), most[end]) for end in End}
    bits = int(random.choice([10, 12, 14, 16]))
    return Shop(
        bike=bike,
        rider_kg=rider_kg,
        bits=bits,
        points=int(random.integers(2, 10)),
        difference_mm=difference,
        friction={end: _friction(random, ends[end], loads[end], difference[end]) for end in End},
        sensors={end: _sensor(random, end, ends[end], bits) for end in End},
        reference_mm=float(random.choice([0.05, 0.1, 0.3, 0.5])),
        sway_n=float(random.choice([0.0, 4.0, 8.0, 16.0])),
    )


def _varied(random: np.random.Generator, end: VirtualEnd, preload_mm: float) -> VirtualEnd:
    return replace(
        end,
        spring_rate_n_mm=end.spring_rate_n_mm * random.uniform(0.8, 1.2),
        preload_mm=end.preload_mm + random.uniform(-preload_mm, preload_mm),
    )


def _friction(
    random: np.random.Generator, end: VirtualEnd, load_n: float, difference_mm: float
) -> DryFriction:
    """Give friction that makes so much difference at a load, a part of it in proportion to the load."""
    places = end.equilibrium_mm(load_n) + difference_mm / 2 * np.array([-1.0, 1.0])
    holds_n = float(np.diff(end.elastic_force_n(places))[0]) / 2
    of_load = float(random.uniform(0.0, 0.6))
    along_n = load_n * float(np.cos(np.radians(end.axis_deg)))
    return DryFriction(
        force_n=(1 - of_load) * holds_n,
        load_share=of_load * holds_n / along_n,
        uneven=float(np.clip(random.normal(0.0, 0.09), -0.25, 0.25)),
    )


def _sensor(random: np.random.Generator, name: End, end: VirtualEnd, bits: int) -> VirtualSensor:
    codes, range_mm = 2.0**bits, SENSOR_MM[name]
    share = float(random.uniform(0.6, 0.9))
    per_mm = share * codes / range_mm
    noise_mm = float(random.uniform(0.03, 0.4)) * (range_mm / 250)
    return VirtualSensor(
        range_mm=range_mm,
        first_count=float(random.uniform(0.03, 0.09)) * codes,
        counts_per_mm=per_mm,
        topped_out_at_mm=float(random.uniform(2.0, 8.0)) + end.sensor_offset_mm / 5,
        bow_mm=float(random.normal(0.0, 0.0008)) * range_mm,
        waves=float(random.uniform(0.3, 1.2)),
        play_mm=float(random.uniform(0.0, 0.0015)) * range_mm,
        noise_counts=noise_mm * per_mm,
    )


def take_check(
    shop: Shop,
    steps: Sequence[Step],
    random: np.random.Generator,
    *,
    slips: Mapping[End, tuple[float, float]] | None = None,
) -> Check:
    """Take a check step by step and record it.

    ``slips`` says after which share of the recording a sensor's clamp slipped, and by how many mm.
    """
    hands = Hands(shop.bike, shop.rider_kg, shop.sway_n, random)
    for step in steps:
        hands.take(step)
    done = hands.handling()
    counts = np.column_stack(
        [_recorded(shop, k, end, done, random, (slips or {}).get(end)) for k, end in enumerate(End)]
    )
    marks = tuple(
        Mark(t_s=float(random.uniform(0.25, 0.75)) * (stop - start) + start, text=step.text)
        for start, stop, step in done.spans
    )
    log = Log(
        id="virtual check",
        kind=Kind.SAG,
        started="2026-01-01T09:00:00+00:00",
        bike=described(shop, random),
        rider=Rider(name="virtual rider", mass_kg=round(shop.rider_kg + random.normal(0.0, 1.0))),
        channels=tuple(Channel(name=f"ch{k}", bits=shop.bits) for k in (0, 1)),
        segments=(Segment(start_s=0.0, dt_s=1 / RATE_HZ, values=counts),),
        marks=marks,
    )
    return Check(
        shop=shop,
        log=log,
        spans=done.spans,
        unladen_mm=shop.bike.sag_mm(0.0),
        rider_mm=shop.bike.sag_mm(shop.rider_kg),
    )


def _recorded(
    shop: Shop,
    k: int,
    end: End,
    done: Handling,
    random: np.random.Generator,
    slip: tuple[float, float] | None,
) -> npt.NDArray[np.uint16]:
    """Follow one end through what was done and read its sensor."""
    part, sensor = shop.bike.ends[k], shop.sensors[end]
    load_n, factor = done.load_n[:, k], done.friction_factor[:, k]
    coarse = handled_mm(part, load_n, shop.friction[end], STEP_S, factor)
    rod = sensor.followed(part.stroke_mm(coarse) + sensor.topped_out_at_mm)
    fine = np.arange(0.0, coarse.size - 1, 1 / (STEP_S * RATE_HZ))
    place = np.interp(fine, np.arange(coarse.size), rod)
    if slip is not None:
        share, mm = slip
        place[round(share * place.size) :] += mm
    counts = sensor.counts(place) + random.normal(0.0, sensor.noise_counts, place.size)
    return np.asarray(np.clip(np.rint(counts), 0, 2**shop.bits - 1), dtype=np.uint16)


def described(shop: Shop, random: np.random.Generator) -> Bike:
    """Write the bike file: sensors as they were calibrated, springs as they are printed."""
    bike = record_of(shop.bike, shop.bits)
    assert bike.front is not None
    assert bike.rear is not None
    return replace(
        bike,
        front=_printed(bike.front, random),
        rear=_printed(bike.rear, random),
        sensors={end: _calibrated(shop, bike.sensors[end], random) for end in End},
    )


def _printed(suspension: Suspension, random: np.random.Generator) -> Suspension:
    rate = suspension.spring_rate_n_mm
    assert rate is not None
    return replace(suspension, spring_rate_n_mm=rate * (1 + float(random.normal(0.0, 0.02))))


def _calibrated(shop: Shop, sensor: Sensor, random: np.random.Generator) -> Sensor:
    true = shop.sensors[sensor.end]
    low, high = shop.covers.get(sensor.end, (0.0, 1.0))
    places = np.linspace(low, high, shop.points) * true.range_mm
    counts = np.rint(true.counts(places) + random.normal(0.0, true.noise_counts / 5, places.size))
    stated = places + random.normal(0.0, shop.reference_mm, places.size)
    points = zip(counts.tolist(), (stated - true.topped_out_at_mm).tolist(), strict=True)
    return replace(sensor, calibration=tuple(points), zero_count=None)
