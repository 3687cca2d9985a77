"""Sensors of the virtual bike that fail: true travel in, counts with faults out, and when each was there.

First comes what the string or the mounting does to the length that is measured (slack string, zero drift),
then the converter's noise, then what wiper, wire and plug do to the voltage (stuck, dropout, at a rail,
spike). How often and how long real sensors fail is nowhere written down; the sizes are common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats, LineFit, fit_line
from analysis.excursions import runs
from analysis.virtual_counts import clean_counts
from analysis.virtual_scene import Truth
from ingest.errors import UsageError
from ingest.records import Bike, End, Sensor

SPIKE, STUCK, RAIL, DROPOUT, SLACK = "spike", "stuck", "at a rail", "dropout", "slack string"
DRIFT = "zero drift"
ALL = (SPIKE, STUCK, RAIL, DROPOUT, SLACK, DRIFT)

MECHANICAL = (SLACK, DRIFT)
"""What happens to the measured length itself, before any voltage."""

LEAST_LAG_SHARE = 0.005
"""A string that never hangs behind by more than this share of the calibrated range is within its accuracy."""

SPARE_S = 0.5
HUM_SHARE, NEAR_SHARE = 0.003, 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class VirtualFault:
    """One thing that goes wrong with one sensor, from ``start_s`` on for ``duration_s``.

    What ``size`` means goes by the kind. Spike: jump as a share of full scale, either way. Stuck: share of
    the noise that remains (0 = frozen). At a rail: 0 or 1, which end of the converter. Dropout: share of
    full scale the reading falls to. Slack string: the fastest the reel pulls in, mm/s of string (negative:
    the string is mounted so that extension is what it cannot follow). Zero drift: how far the zero has crept
    by the end, mm of the sensor; it stays there afterwards.
    """

    kind: str
    end: End
    start_s: float
    duration_s: float
    size: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueFault:
    """A span in which the reading of one end truly was wrong. Zero drift has none: it is no span to mask."""

    end: End
    kind: str
    start_s: float
    end_s: float


def with_faults(
    truth: Truth,
    record: Bike,
    *,
    faults: Sequence[VirtualFault],
    bits: int = 10,
    noise_counts: float = 0.5,
    seed: int = 0,
) -> tuple[npt.NDArray[np.uint16], tuple[TrueFault, ...]]:
    """Turn true travel into the counts of failing sensors.

    Parameters
    ----------
    truth, record
        What truly happened, and the bike file with the sensors, as for `analysis.virtual_counts.to_counts`.
    faults
        What goes wrong. Without any, the counts are those of ``to_counts`` with the same seed.
    bits, noise_counts, seed
        Converter, standard deviation of its noise before rounding, and the seed of the noise.

    Returns
    -------
    counts, true_faults
        Shape (samples, 2), and the spans in which they are wrong, in order of time. Of a slack string these
        are the stretches in which it hangs behind by 0.5 % of the calibrated range or more at some moment.
    """
    unknown = sorted({fault.kind for fault in faults} - set(ALL))
    if unknown:
        raise UsageError(f"no virtual sensor fault {unknown[0]!r}: give one of {', '.join(ALL)}")
    counts = clean_counts(truth, record)
    noise = np.random.default_rng(seed).normal(0.0, noise_counts, counts.shape)
    random = np.random.default_rng((seed, 1))
    true: list[TrueFault] = []
    for fault in sorted(faults, key=lambda one: one.kind not in MECHANICAL):
        sensor = record.sensors[fault.end]
        column, own = counts[:, sensor.channel], noise[:, sensor.channel]
        at = _samples(fault, truth.dt_s, column.size)
        if at.stop <= at.start:
            continue
        spans = [(at.start, at.stop)]
        if fault.kind == SLACK:
            spans = _slacken(column, at, sensor, fault.size * truth.dt_s)
        elif fault.kind == DRIFT:
            _drift(column, at, sensor, fault.size)
            spans = []
        else:
            _break(column, own, at, fault, 2.0**bits - 1.0, random)
        true += [
            TrueFault(end=fault.end, kind=fault.kind, start_s=a * truth.dt_s, end_s=b * truth.dt_s)
            for a, b in spans
        ]
    read = np.clip(np.rint(counts + noise), 0, 2**bits - 1).astype(np.uint16)
    return read, tuple(sorted(true, key=lambda one: one.start_s))


def random_faults(seed: int, duration_s: float, kinds: Sequence[str] = ALL) -> tuple[VirtualFault, ...]:
    """Draw what goes wrong in one ride: of each kind one or a few, the short ones apart from each other.

    A string goes slack at one end only, from some moment to the end of the ride: its reel does not get
    better by itself. The rear sensor is taken to be on a shock that moves less than half as much as the
    wheel.
    """
    random = np.random.default_rng((seed, 2))
    drawn = [fault for kind in kinds for fault in _draw(kind, duration_s, random)]
    lasting = [fault for fault in drawn if fault.kind in MECHANICAL]
    passing = [fault for fault in drawn if fault.kind not in MECHANICAL]
    # Dealt out over the ride in random order, each in a slot of its own, as far as there is room for them.
    order = random.permutation(len(passing))
    room_s = (duration_s - SPARE_S - sum(fault.duration_s + SPARE_S for fault in passing)) / (
        len(passing) + 1
    )
    placed, now_s = [], SPARE_S
    for k in order:
        now_s += max(room_s, 0.0) * float(random.uniform(0.3, 1.7))
        if now_s + passing[k].duration_s + SPARE_S > duration_s:
            break
        placed.append(replace(passing[k], start_s=now_s))
        now_s += passing[k].duration_s + SPARE_S
    return (*lasting, *placed)


def _draw(kind: str, duration_s: float, random: np.random.Generator) -> Iterator[VirtualFault]:
    def fault(seconds: float, size: float, start_s: float = 0.0, end: End | None = None) -> VirtualFault:
        end = (End.FRONT, End.REAR)[int(random.integers(2))] if end is None else end
        return VirtualFault(kind=kind, end=end, start_s=start_s, duration_s=seconds, size=size)

    def between(low: float, high: float) -> float:
        return float(random.uniform(low, high))

    match kind:
        case "spike":
            for _ in range(int(random.integers(3, 9))):
                yield fault(between(0.0005, 0.003), between(0.12, 0.5) * (1 if random.random() < 0.5 else -1))
        case "stuck":
            for _ in range(int(random.integers(1, 3))):
                yield fault(between(0.6, 5.0), float(random.random() < 0.5))
        case "at a rail":
            yield fault(between(0.5, 4.0), float(random.integers(2)))
        case "dropout":
            for _ in range(int(random.integers(2, 6))):
                far = (0.0, 1.0, between(0.0, 1.0))[int(random.integers(3))]
                yield fault(float(np.exp(between(np.log(0.005), np.log(1.0)))), far)
        case "slack string":
            end = (End.FRONT, End.REAR)[int(random.integers(2))]
            start_s = between(0.0, 0.4) * duration_s
            reel_mm_s = between(450, 900) if end is End.FRONT else between(180, 370)
            yield fault(duration_s - start_s, reel_mm_s, start_s, end)
        case "zero drift":
            yield fault(duration_s, between(1.0, 4.0) * (1 if random.random() < 0.5 else -1))


def _samples(fault: VirtualFault, dt_s: float, rows: int) -> slice:
    first = min(max(round(fault.start_s / dt_s), 0), rows)
    return slice(first, min(first + max(1, round(fault.duration_s / dt_s)), rows))


def _slacken(column: Floats, at: slice, sensor: Sensor, reel_mm: float) -> list[tuple[int, int]]:
    """Let the reel pull in no more than ``reel_mm`` a sample; tell where the string hangs behind."""
    line = _line(sensor)
    per_sample = reel_mm / line.slope
    if per_sample < 0:
        column *= -1.0
    steps = abs(per_sample) * np.arange(at.stop - at.start)
    # Never above the true reading, never rising faster than the reel: the least of both, in closed form.
    read = np.minimum.accumulate(column[at] - steps) + steps
    lag = column[at] - read
    column[at] = read
    if per_sample < 0:
        column *= -1.0
    least = LEAST_LAG_SHARE * (line.span.high - line.span.low)
    slack = runs(lag > 1e-6)
    return [
        (at.start + int(a), at.start + int(b))
        for a, b in zip(slack.first, slack.end, strict=True)
        if lag[a:b].max() >= least
    ]


def _drift(column: Floats, at: slice, sensor: Sensor, size_mm: float) -> None:
    crept = size_mm / _line(sensor).slope
    column[at] += np.linspace(0.0, crept, at.stop - at.start)
    column[at.stop :] += crept


def _break(
    column: Floats,
    noise: Floats,
    at: slice,
    fault: VirtualFault,
    full: float,
    random: np.random.Generator,
) -> None:
    """Put what wiper, wire or plug do into the voltage, in place."""
    rows = at.stop - at.start
    match fault.kind:
        case "spike":
            jump = fault.size * full
            inside = 0 <= column[at.start] + jump <= full
            column[at] += jump if inside else -jump
        case "stuck":
            column[at] = column[at.start] + (1.0 - fault.size) * noise[at.start]
            noise[at] *= fault.size
        case "at a rail":
            column[at] = fault.size * full
        case "dropout":
            # An open input picks up hum; what falls to where the reading was anyway is no dropout.
            far = fault.size * full
            if abs(far - column[at.start]) < NEAR_SHARE * full:
                far = 0.0 if column[at.start] > full / 2 else full
            column[at] = far + random.normal(0.0, HUM_SHARE * full, rows)


def _line(sensor: Sensor) -> LineFit:
    counts, mm = zip(*sensor.calibration, strict=True)
    return fit_line(counts, mm)
