"""A log's readings as motion: wheel travel and wheel speed of one end, segment by segment.

Nothing is filtered across a gap and nothing is filled in. A sample that cannot be trusted is NaN: further
than 5 % outside what the sensor was calibrated for, further outside the travel than any bike file can be
wrong, or in a span where the sensor failed (`analysis.sensor_faults`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Samples
from analysis.conversion import Converted, Source, converted, other_readings, source
from analysis.distribution import Distribution
from analysis.effective import effective_bike
from analysis.fault_cautions import fault_cautions, number
from analysis.ride_results import FaultSpan
from analysis.sensor_faults import Fault, find_faults
from analysis.speed import Differentiator, differentiators
from ingest.log import Kind, Log, Segment
from ingest.records import End

LEAST_RATE_HZ = 200.0
"""Below this rate a bump passes between samples."""

SURE = 3.0
"""Noise alone moves the derivative by less than so many standard deviations all but always."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MotionSegment:
    """One gap-free stretch: sample ``i`` was taken ``start_s + i * dt_s`` after the first sample of the log.

    ``start_s`` includes the skew of the end's channel, so front and rear differ by it. ``travel_mm`` is NaN
    where masked; ``speed_mm_s`` also within half a window of a masked sample and of the stretch's ends. Of
    whole counts both are kept as float32, half as large: rounding moves travel by 0.00001 mm and speed by
    some thousandths of a mm/s.
    """

    start_s: float
    dt_s: float
    travel_mm: Samples
    speed_mm_s: Samples


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EndMotion:
    """Wheel travel and speed of one end, compression positive, 0 mm topped out.

    ``travel_mm`` is the full nominal travel under the log's setup; ``bandwidth_hz`` the −3 dB point of the
    speeds; ``distribution`` how often each valid travel occurred. ``zero_known`` says whether somebody
    measured the topped-out reading in this mounting (imported travel counts as known). ``faults`` are the
    spans masked because they cannot be motion, in order of time; ``dead_band_mm_s`` the speed below which
    noise alone moves the reading. Of the masked samples ``empty_samples`` never were readings: empty cells of
    an imported file, which are no fault.
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
    empty_samples: int = 0


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
    found = source(log, bike, end, zero if zero is not None else log.zeros.get(end))
    if found is None:
        return None
    travel = converted(log, found, suspension.travel_mm)
    faults = find_faults(
        travel.readings,
        travel.travels,
        other_readings(log, bike, end),
        full_mm=suspension.travel_mm,
        all_in_range=travel.all_in_range,
        ridden=log.kind is Kind.RIDE,
    )
    for fault in faults.spans:
        travel.travels[fault.stretch][fault.first : fault.stop] = np.nan
    tools = differentiators(segment.dt_s for segment in log.segments)
    segments = tuple(
        _motion(segment, log.channels[found.column].skew_s, values, tools[segment.dt_s])
        for segment, values in zip(log.segments, travel.travels, strict=True)
    )
    distribution = travel.distribution([(one.stretch, one.first, one.stop) for one in faults.spans])
    spans = tuple(
        _span(fault, segments[fault.stretch])
        for fault in faults.spans
        if not (travel.empty and _mostly_empty(log.segments[fault.stretch].values[:, found.column], fault))
    )
    gain = max(tool.noise_gain_per_s for tool in tools.values())
    zero_known = found.tool is None or found.tool.zero_count is not None
    return EndMotion(
        end=end,
        travel_mm=suspension.travel_mm,
        segments=segments,
        bandwidth_hz=min(tool.bandwidth_hz for tool in tools.values()),
        distribution=distribution,
        masked_samples=log.rows - distribution.total,
        zero_known=zero_known,
        cautions=(
            *_mounting_cautions(end, found, zero_known),
            *_range_cautions(end, travel, imported=found.tool is None),
            *fault_cautions(end, spans, faults.reel_mm_s),
            *_sampling_cautions(end, segments, tools),
        ),
        faults=spans,
        dead_band_mm_s=SURE * gain * travel.readings.noise * abs(travel.readings.mm_each),
        empty_samples=travel.empty,
    )


def _mostly_empty(readings: npt.NDArray[np.generic], fault: Fault) -> bool:
    """Tell whether a span is a hole in an imported file rather than something a sensor did."""
    empty = np.isnan(readings[fault.first : fault.stop].astype(float))
    return bool(2 * np.count_nonzero(empty) > empty.size)


def _motion(segment: Segment, skew_s: float, travel: Samples, tool: Differentiator) -> MotionSegment:
    speed = tool.speed(travel)
    travel.setflags(write=False)
    speed.setflags(write=False)
    return MotionSegment(
        start_s=segment.start_s + skew_s, dt_s=segment.dt_s, travel_mm=travel, speed_mm_s=speed
    )


def _span(fault: Fault, part: MotionSegment) -> FaultSpan:
    return FaultSpan(
        kind=fault.kind,
        start_s=part.start_s + fault.first * part.dt_s,
        end_s=part.start_s + fault.stop * part.dt_s,
        samples=fault.stop - fault.first,
    )


def _mounting_cautions(end: End, found: Source, zero_known: bool) -> Iterator[str]:
    if not zero_known:
        yield (
            f"{end}: topped-out zero not measured in this mounting; "
            "positions rest on the bike file's calibration"
        )
    if found.tool is not None and found.tool.slant is not None:
        yield from found.tool.slant.cautions(end)


def _range_cautions(end: End, travel: Converted, *, imported: bool) -> Iterator[str]:
    carried, outside = number(travel.carried, "sample"), number(travel.outside, "sample")
    if travel.carried and imported:
        yield (
            f"{end}: imported wheel travel lies outside the bike's travel ({carried}); "
            "check travel_mm and the zero of the other logger"
        )
    elif travel.carried:
        yield (
            f"{end}: beyond the last calibration or leverage point the end slope was carried on ({carried})"
        )
    if travel.outside and imported:
        yield f"{end}: imported readings no wheel can reach were left out ({outside})"
    elif travel.outside:
        yield (
            f"{end}: readings further out than the calibration or leverage can tell were left out ({outside})"
        )


def _sampling_cautions(
    end: End, segments: Sequence[MotionSegment], tools: Mapping[float, Differentiator]
) -> Iterator[str]:
    rate_hz = 1.0 / max(tools)
    too_short = sum(part.travel_mm.size < tools[part.dt_s].coefficients.size for part in segments)
    if rate_hz < LEAST_RATE_HZ:
        yield (
            f"{end}: {rate_hz:.0f} samples a second; below {LEAST_RATE_HZ:.0f} "
            "the peaks and speeds come out too low"
        )
    if too_short:
        yield f"{end}: no speed from {number(too_short, 'stretch', 'stretches')} too short between two gaps"
