"""A log's readings as motion: wheel travel and wheel speed of one end, segment by segment.

Nothing is filtered across a gap and nothing is filled in. A sample that cannot be trusted is NaN: further
than 5 % outside what the sensor was calibrated for, further outside the travel than any bike file can be
wrong, or a spike no wheel could make.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats
from analysis.distribution import Distribution, counted, of_samples
from analysis.effective import effective_bike
from analysis.glitches import lone_spikes
from analysis.position import Converter, converter
from analysis.ride_results import FaultSpan
from analysis.speed import Differentiator, differentiators
from ingest.log import Log, Segment
from ingest.records import End

LARGEST_CODE = 65_535
"""Whole counts up to 16 bits are converted through a table: one look-up a sample."""

DOUBTFUL_SHARE, ABSURD_SHARE = 0.05, 0.25
"""Imported travel so far outside 0 to full travel, as a share of it, is doubtful, or left out. How another
logger was calibrated is not known here, and a book figure may be wrong, but not by a quarter."""

LEAST_RATE_HZ = 200.0
"""Below this rate a bump passes between samples."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MotionSegment:
    """One gap-free stretch: sample ``i`` was taken ``start_s + i * dt_s`` after the first sample of the log.

    ``start_s`` includes the skew of the end's channel, so front and rear differ by it. ``travel_mm`` is NaN
    where masked; ``speed_mm_s`` also within half a window of a masked sample and of the stretch's ends.
    """

    start_s: float
    dt_s: float
    travel_mm: Floats
    speed_mm_s: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EndMotion:
    """Wheel travel and speed of one end, compression positive, 0 mm topped out.

    ``travel_mm`` is the full nominal travel under the log's setup; ``bandwidth_hz`` the −3 dB point of the
    speeds; ``distribution`` how often each valid travel occurred. ``zero_known`` says whether somebody
    measured the topped-out reading in this mounting (imported travel counts as known). ``faults`` are the
    spans masked because they cannot be motion, in order of time; ``dead_band_mm_s`` the speed below which
    noise alone moves the reading.
    """

    end: End
    travel_mm: float
    segments: tuple[MotionSegment, ...]
    bandwidth_hz: float
    distribution: Distribution
    masked_samples: int
    zero_known: bool
    cautions: tuple[str, ...]
    faults: tuple[FaultSpan, ...] = ()
    dead_band_mm_s: float = 0.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Travel:
    """Wheel travel of each segment, how often each value occurred, and what was doubtful, in samples."""

    segments: list[Floats]
    distribution: Distribution
    carried: int
    outside: int
    spikes: int
    imported: bool = False
    slant_cautions: tuple[str, ...] = ()


def end_motion(log: Log, end: End, *, zero: float | None = None) -> EndMotion | None:
    """Convert one end of a log to wheel travel and speed.

    Parameters
    ----------
    log : Log
        Counts, converted by the sensor, leverage and travel of the log's bike under its setup; or wheel
        travel in mm (a channel named ``front_mm`` or ``rear_mm``), which needs no sensor.
    end : End
        Which end.
    zero : float, optional
        Topped-out reading in the unit of the channel. Without it: the log's own zero for this end, else the
        sensor's ``zero_count``, else the zero of the calibration, with a caution.

    Returns
    -------
    EndMotion or None
        ``None`` where this end was not measured: no channel for it, or the bike has no suspension there.

    Raises
    ------
    CannotAnswer
        The sensor cannot be converted: calibration of one point, or shock stroke without a leverage.
    """
    bike = effective_bike(log.bike, log.setup)
    suspension = bike.suspension(end)
    if suspension is None or not log.segments:
        return None
    zero = zero if zero is not None else log.zeros.get(end)
    names = {channel.name: column for column, channel in enumerate(log.channels)}
    zero_known = True
    if (column := names.get(f"{end}_mm")) is not None:
        travel = _imported(log.segments, column, zero or 0.0, suspension.travel_mm)
    elif end in bike.sensors and (column := names.get(f"ch{bike.sensors[end].channel}")) is not None:
        tool = converter(bike, end, zero)
        travel = _converted(log.segments, column, tool)
        if tool.slant is not None:
            travel = replace(travel, slant_cautions=tuple(tool.slant.cautions(end)))
        zero_known = tool.zero_count is not None
    else:
        return None
    tools = differentiators(segment.dt_s for segment in log.segments)
    segments = tuple(
        _motion(segment, log.channels[column].skew_s, values, tools[segment.dt_s])
        for segment, values in zip(log.segments, travel.segments, strict=True)
    )
    return EndMotion(
        end=end,
        travel_mm=suspension.travel_mm,
        segments=segments,
        bandwidth_hz=min(tool.bandwidth_hz for tool in tools.values()),
        distribution=travel.distribution,
        masked_samples=log.rows - travel.distribution.total,
        zero_known=zero_known,
        cautions=tuple(_cautions(end, travel, segments, tools, zero_known)),
    )


def _motion(segment: Segment, skew_s: float, travel: Floats, tool: Differentiator) -> MotionSegment:
    speed = tool.speed(travel)
    travel.setflags(write=False)
    speed.setflags(write=False)
    return MotionSegment(
        start_s=segment.start_s + skew_s, dt_s=segment.dt_s, travel_mm=travel, speed_mm_s=speed
    )


def _imported(segments: Sequence[Segment], column: int, zero_mm: float, full_mm: float) -> _Travel:
    """Take over a channel that already is wheel travel; what no wheel can reach is masked."""
    travels = [segment.values[:, column].astype(float) - zero_mm for segment in segments]
    doubtful = outside = 0
    for travel in travels:
        beyond = np.abs(travel - full_mm / 2) / full_mm - 0.5
        absurd = ~(beyond <= ABSURD_SHARE)
        travel[absurd] = np.nan
        outside += int(np.count_nonzero(absurd))
        doubtful += int(np.count_nonzero(~absurd & (beyond > DOUBTFUL_SHARE)))
    spikes = sum(_mask_spikes(travel, s.dt_s).size for travel, s in zip(travels, segments, strict=True))
    distribution = of_samples(np.concatenate(travels))
    return _Travel(
        segments=travels,
        distribution=distribution,
        carried=doubtful,
        outside=outside,
        spikes=spikes,
        imported=True,
    )


def _converted(segments: Sequence[Segment], column: int, tool: Converter) -> _Travel:
    """Convert counts, through a table of all codes where they are whole numbers of 16 bits or less."""
    readings = [np.ascontiguousarray(segment.values[:, column]) for segment in segments]
    if all(_whole(codes) for codes in readings):
        return _by_table(segments, readings, tool)
    travels, carried, outside, spikes = [], 0, 0, 0
    for segment, counts in zip(segments, readings, strict=True):
        positions = tool.positions(counts.astype(float))
        carried += int(np.count_nonzero(positions.carried))
        outside += int(np.count_nonzero(np.isnan(positions.travel_mm)))
        spikes += _mask_spikes(positions.travel_mm, segment.dt_s).size
        travels.append(positions.travel_mm)
    distribution = of_samples(np.concatenate(travels))
    return _Travel(
        segments=travels, distribution=distribution, carried=carried, outside=outside, spikes=spikes
    )


def _by_table(
    segments: Sequence[Segment], readings: Sequence[npt.NDArray[np.generic]], tool: Converter
) -> _Travel:
    codes = [counts.astype(np.uint16, copy=False) for counts in readings]
    highest = max((int(c.max()) for c in codes if c.size), default=0)
    table = tool.positions(np.arange(highest + 1, dtype=float))
    samples = np.zeros(highest + 1, dtype=np.int64)
    travels, spikes = [], 0
    for segment, counts in zip(segments, codes, strict=True):
        samples += np.bincount(counts, minlength=samples.size)
        travel = table.travel_mm[counts]
        masked = _mask_spikes(travel, segment.dt_s)
        np.subtract.at(samples, counts[masked], 1)
        spikes += masked.size
        travels.append(travel)
    return _Travel(
        segments=travels,
        distribution=counted(table.travel_mm, samples),
        carried=int(samples[table.carried].sum()),
        outside=int(samples[np.isnan(table.travel_mm)].sum()),
        spikes=spikes,
    )


def _mask_spikes(travel: Floats, dt_s: float) -> npt.NDArray[np.intp]:
    """Mask lone spikes in place and tell where they were."""
    spikes = lone_spikes(travel, dt_s)
    travel[spikes] = np.nan
    return spikes


def _whole(counts: npt.NDArray[np.generic]) -> bool:
    if counts.dtype.kind not in "iu":
        return False
    return counts.size == 0 or bool(counts.min() >= 0 and counts.max() <= LARGEST_CODE)


def _cautions(
    end: End,
    travel: _Travel,
    segments: Sequence[MotionSegment],
    tools: Mapping[float, Differentiator],
    zero_known: bool,
) -> Iterator[str]:
    rate_hz = 1.0 / max(tools)
    too_short = sum(part.travel_mm.size < tools[part.dt_s].coefficients.size for part in segments)
    if not zero_known:
        yield (
            f"{end}: topped-out zero not measured in this mounting; "
            "positions rest on the bike file's calibration"
        )
    yield from travel.slant_cautions
    yield from _range_cautions(end, travel)
    if travel.spikes:
        yield (
            f"{end}: lone spikes faster than any wheel moves were left out "
            f"({_number(travel.spikes, 'sample')})"
        )
    if rate_hz < LEAST_RATE_HZ:
        yield (
            f"{end}: {rate_hz:.0f} samples a second; below {LEAST_RATE_HZ:.0f} "
            "the peaks and speeds come out too low"
        )
    if too_short:
        yield f"{end}: no speed from {_number(too_short, 'stretch', 'stretches')} too short between two gaps"


def _range_cautions(end: End, travel: _Travel) -> Iterator[str]:
    carried, outside = _number(travel.carried, "sample"), _number(travel.outside, "sample")
    if travel.carried and travel.imported:
        yield (
            f"{end}: imported wheel travel lies outside the bike's travel ({carried}); "
            "check travel_mm and the zero of the other logger"
        )
    elif travel.carried:
        yield (
            f"{end}: beyond the last calibration or leverage point the end slope was carried on ({carried})"
        )
    if travel.outside and travel.imported:
        yield f"{end}: imported readings no wheel can reach were left out ({outside})"
    elif travel.outside:
        yield (
            f"{end}: readings further out than the calibration or leverage can tell were left out ({outside})"
        )


def _number(count: int, one: str, more: str | None = None) -> str:
    return f"{count} {one if count == 1 else more or one + 's'}"
