"""Readings of a sag check: from the raw channel to wheel travel over the topped-out zero of this mounting.

The still spans are found on a rough track (raw readings times a constant scale): it needs no zero, and masks
nothing that the zero would have put right. The numbers are read from the exact conversion afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.motion import EndMotion
from analysis.phases import Phase
from analysis.position import Converter, converter
from analysis.results import SagReading
from analysis.stillness import MAD_TO_SD, StillSpan, Track, settled, still_spans, thin
from ingest.log import Log
from ingest.records import Bike, End

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class RawEnd:
    """One end before any zero: rough track in wheel mm, and the still spans on it.

    ``mm_each`` is wheel mm a unit of the channel, roughly, for a channel of counts; its sign is that of the
    calibration. ``tool`` is ``None`` where the channel already is wheel travel; ``step`` is what one step of
    the channel is, in its own unit.
    """

    end: End
    track: Track
    spans: tuple[StillSpan, ...]
    mm_each: float
    step: float
    tool: Converter | None

    def raw(self, span: StillSpan) -> float:
        """Give the mean reading of a span in the unit of the channel."""
        inside = self.track.within(span)
        return float(settled(inside).mean()) / self.mm_each if inside.size else math.nan

    def wheel_mm_of_step(self, raw: float, zero: float | None) -> float:
        """Give what one step of the channel is in wheel mm at a reading."""
        if self.tool is None:
            return self.step
        at = np.array([raw - 0.5, raw + 0.5])
        low, high = self.tool.positions(at).travel_mm if zero is None else _shifted(self.tool, at, zero)
        return abs(float(high - low)) if np.isfinite(high - low) else abs(self.mm_each)


def _shifted(tool: Converter, counts: Floats, zero: float) -> Floats:
    return replace(tool, zero_count=zero).positions(counts).travel_mm


def raw_end(log: Log, bike: Bike, end: End) -> RawEnd | None:
    """Take one end's channel out of a log; ``None`` where there is none.

    Parameters
    ----------
    log : Log
    bike : Bike
        The bike under the log's setup.
    end : End
    """
    names = {channel.name: column for column, channel in enumerate(log.channels)}
    suspension, sensor = bike.suspension(end), bike.sensors.get(end)
    if suspension is None:
        return None
    tool: Converter | None = None
    scale = 1.0
    column = names.get(f"{end}_mm")
    if column is None:
        if sensor is None or (column := names.get(f"ch{sensor.channel}")) is None:
            return None
        tool = converter(bike, end, None)
        scale = tool.line.slope * _mean_leverage(tool, suspension.travel_mm)
    skew_s = log.channels[column].skew_s
    pieces = [(s.start_s + skew_s, s.dt_s, s.values[:, column]) for s in log.segments]
    raw = thin(pieces)
    track = Track(t_s=raw.t_s, mm=raw.mm * scale)
    step = 1.0 if tool is not None else _step_of([values for _, _, values in pieces])
    return RawEnd(end=end, track=track, spans=still_spans(track), mm_each=scale, step=step, tool=tool)


def _mean_leverage(tool: Converter, travel_mm: float) -> float:
    """Give wheel travel over stroke from end to end: good enough to tell motion from rest."""
    if tool.linkage is None:
        return 1.0
    stroke = float(tool.linkage.stroke_mm(travel_mm))
    return travel_mm / stroke if np.isfinite(stroke) and stroke > 0 else float(tool.linkage.leverage(0.0))


def _step_of(values: Sequence[npt.NDArray[np.generic]]) -> float:
    """Give the step of imported travel: the usual distance between two different values."""
    different = np.unique(np.concatenate([np.asarray(part, dtype=float) for part in values]))
    steps = np.diff(different[np.isfinite(different)])
    return float(np.median(steps)) if steps.size else 0.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Reading:
    """One phase read exactly: wheel travel over the topped-out zero, mm, and its one-second means."""

    phase: Phase
    travel_mm: float
    spread_mm: float
    seconds_mm: Floats

    def result(self) -> SagReading:
        """Give the reading as results show it."""
        return SagReading(
            phase=self.phase.name,
            side=self.phase.side,
            start_s=self.phase.span.start_s,
            end_s=self.phase.span.end_s,
            travel_mm=self.travel_mm,
            spread_mm=self.spread_mm,
        )


def exact_track(motion: EndMotion) -> Track:
    """Thin the exact wheel travel the way the rough one was."""
    return thin([(part.start_s, part.dt_s, part.travel_mm) for part in motion.segments])


def take(track: Track, phases: Sequence[Phase]) -> tuple[Reading, ...]:
    """Read each phase off the exact track; phases without a valid sample are left out."""
    readings: list[Reading] = []
    for phase in phases:
        inside = track.within(phase.span)
        if inside.size == 0:
            continue
        level = float(np.median(inside))
        kept = settled(inside)
        readings.append(
            Reading(
                phase=phase,
                travel_mm=float(kept.mean()),
                spread_mm=float(MAD_TO_SD * np.median(np.abs(inside - level))),
                seconds_mm=_second_means(kept, track),
            )
        )
    return tuple(readings)


def _second_means(inside: Floats, track: Track) -> Floats:
    per = max(1, round(1.0 / float(np.median(np.diff(track.t_s)))))
    rows = inside.size // per
    return np.asarray(inside[: rows * per].reshape(rows, per).mean(axis=1), dtype=np.float64)
