"""One end of a log as readings and as wheel travel, sample by sample, before anything is judged.

Whole counts up to 16 bits are converted through a table of all codes: one look-up a sample.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.calibration import Samples
from analysis.distribution import BLOCK, Distribution, counted, of_samples
from analysis.position import Converter, Positions, converter
from analysis.reading_noise import reading_noise
from analysis.sensor_faults import Readings
from ingest.errors import CannotAnswer
from ingest.log import Log
from ingest.records import Bike, End

LARGEST_CODE = 65_535

DOUBTFUL_SHARE, ABSURD_SHARE = 0.05, 0.25
"""Imported travel so far outside 0 to full travel, as a share of it, is doubtful, or left out. How another
logger was calibrated is not known here, and a book figure may be wrong, but not by a quarter."""

SLOPE_POINTS = 33


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where one end's readings are in a log: a column, what converts it, and its zero.

    ``tool`` is ``None`` where the column is wheel travel in mm, from which ``zero_mm`` is taken off.
    """

    end: End
    column: int
    tool: Converter | None
    zero_mm: float = 0.0
    bits: int | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Converted:
    """Wheel travel of each stretch, NaN where it is too far out, and the readings it comes from.

    ``carried`` and ``outside`` count the samples on a carried-on slope (imported: of doubtful size) and too
    far out, ``empty`` those the imported file has no reading for. ``table`` and ``codes`` are the conversion
    of each code and how often each was read; ``None`` where readings are no whole counts.
    """

    readings: Readings
    travels: list[Samples]
    carried: int
    outside: int
    table: Positions | None = None
    codes: npt.NDArray[np.int64] | None = None
    empty: int = 0

    @property
    def all_in_range(self) -> bool:
        """Whether it is known that nothing is too far out and no code at an end of the converter."""
        if self.outside or self.empty or self.codes is None:
            return False
        return not any(self.codes[code] for code in self.readings.rails if code < self.codes.size)

    def distribution(self, masked: Sequence[tuple[int, int, int]]) -> Distribution:
        """How often each travel occurred, without the masked ``(stretch, first, stop)``."""
        if self.table is None or self.codes is None:
            return of_samples(np.concatenate(self.travels))
        left = self.codes.copy()
        for stretch, first, stop in masked:
            left -= np.bincount(self.readings.stretches[stretch][first:stop], minlength=left.size)
        return counted(self.table.travel_mm, left)


def source(log: Log, bike: Bike, end: End, zero: float | None) -> Source | None:
    """Find where an end's readings are; ``None`` where it was not measured.

    Raises
    ------
    CannotAnswer
        The sensor cannot be converted.
    """
    names = {channel.name: column for column, channel in enumerate(log.channels)}
    if (column := names.get(f"{end}_mm")) is not None:
        return Source(end=end, column=column, tool=None, zero_mm=zero or 0.0)
    if end in bike.sensors and (column := names.get(f"ch{bike.sensors[end].channel}")) is not None:
        tool = converter(bike, end, zero)
        return Source(end=end, column=column, tool=tool, bits=log.channels[column].bits)
    return None


def other_readings(log: Log, bike: Bike, end: End) -> Readings | None:
    """Give the readings of the end that is not ``end``, if they can be had."""
    other = End.REAR if end is End.FRONT else End.FRONT
    try:
        found = source(log, bike, other, log.zeros.get(other))
    except CannotAnswer:
        return None
    return None if found is None else readings(log, found, [s.values[:, found.column] for s in log.segments])


def readings(log: Log, found: Source, stretches: Sequence[npt.NDArray[np.generic]]) -> Readings:
    """Put together what the search for faults needs to know of one end's readings."""
    whole = all(values.dtype.kind in "iu" for values in stretches)
    top = () if found.bits is None or found.tool is None else (0, 2**found.bits - 1)
    return Readings(
        stretches=stretches,
        intervals_s=[segment.dt_s for segment in log.segments],
        mm_each=1.0 if found.tool is None else _mm_each(found.tool),
        noise=reading_noise(stretches, 1.0 if whole and found.tool is not None else 0.0),
        rails=top,
    )


def converted(log: Log, found: Source, full_mm: float) -> Converted:
    """Convert one end of a log."""
    columns = [np.ascontiguousarray(segment.values[:, found.column]) for segment in log.segments]
    if found.tool is None:
        return _imported(log, found, columns, full_mm)
    if all(_whole(codes) for codes in columns):
        return _by_table(log, found, found.tool, [codes.astype(np.uint16, copy=False) for codes in columns])
    positions = [found.tool.positions(counts.astype(float)) for counts in columns]
    return Converted(
        readings=readings(log, found, columns),
        travels=[position.travel_mm for position in positions],
        carried=sum(int(np.count_nonzero(position.carried)) for position in positions),
        outside=sum(int(np.count_nonzero(np.isnan(position.travel_mm))) for position in positions),
    )


def _by_table(log: Log, found: Source, tool: Converter, codes: list[npt.NDArray[np.uint16]]) -> Converted:
    highest = max((int(c.max()) for c in codes if c.size), default=0)
    table = tool.positions(np.arange(highest + 1, dtype=float))
    samples = np.zeros(highest + 1, dtype=np.int64)
    travel_mm = table.travel_mm.astype(np.float32)
    travels: list[Samples] = [np.empty(column.size, dtype=np.float32) for column in codes]
    for column, travel in zip(codes, travels, strict=True):
        for first in range(0, column.size, BLOCK):
            part = column[first : first + BLOCK]
            samples += np.bincount(part, minlength=samples.size)
            # Every code is in the table; "clip" only spares the check.
            np.take(travel_mm, part, out=travel[first : first + BLOCK], mode="clip")
    return Converted(
        readings=readings(log, found, codes),
        travels=travels,
        carried=int(samples[table.carried].sum()),
        outside=int(samples[np.isnan(table.travel_mm)].sum()),
        table=table,
        codes=samples,
    )


def _imported(
    log: Log, found: Source, columns: Sequence[npt.NDArray[np.generic]], full_mm: float
) -> Converted:
    """Take over a channel that already is wheel travel; what no wheel can reach is masked."""
    travels: list[Samples] = [column.astype(float) - found.zero_mm for column in columns]
    doubtful = outside = 0
    for travel in travels:
        beyond = np.abs(travel - full_mm / 2) / full_mm - 0.5
        absurd = ~(beyond <= ABSURD_SHARE)
        travel[absurd] = np.nan
        outside += int(np.count_nonzero(absurd))
        doubtful += int(np.count_nonzero(~absurd & (beyond > DOUBTFUL_SHARE)))
    own = readings(log, found, travels)
    # The travel is masked later on; what was read stays.
    own = replace(own, stretches=[travel.copy() for travel in travels])
    empty = sum(int(np.count_nonzero(np.isnan(column.astype(float)))) for column in columns)
    return Converted(readings=own, travels=travels, carried=doubtful, outside=outside - empty, empty=empty)


def _mm_each(tool: Converter) -> float:
    """Wheel travel of one count, mm: the middle over the calibrated range, with its sign."""
    counts = np.linspace(tool.line.span.low, tool.line.span.high, SLOPE_POINTS)
    steps = np.diff(tool.positions(counts).travel_mm) / (counts[1] - counts[0])
    known = steps[np.isfinite(steps)]
    return float(np.median(known)) if known.size else tool.line.slope


def _whole(counts: npt.NDArray[np.generic]) -> bool:
    if counts.dtype.kind not in "iu":
        return False
    return counts.size == 0 or bool(counts.min() >= 0 and counts.max() <= LARGEST_CODE)
