"""A ride cut at its marks: each section a log of its own, with the times of the whole ride."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ingest.log import Log, Segment

LEAST_S = 5.0
BEFORE_THE_FIRST = "start"
WHOLE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One part of a ride, from its mark to the next one, in seconds from the first sample of the ride."""

    name: str
    start_s: float
    end_s: float
    log: Log


def sections(log: Log) -> tuple[Section, ...]:
    """Cut a ride at its marks.

    Parameters
    ----------
    log : Log

    Returns
    -------
    tuple of Section
        In order of time. A row belongs to the section whose mark came last before it, or at it; what lies
        before the first mark is called ``start``. A name that comes again is numbered: ``tarmac``,
        ``tarmac 2``. Each section's log has the id, bike and setup of the whole, but only its own rows,
        marks and gaps. Parts with less than 5 s of rows are left out (`left_out` says which); a ride without
        marks has no sections.
    """
    return tuple(section for section in _all(log) if _rows_s(section.log) >= LEAST_S)


def left_out(log: Log) -> tuple[str, ...]:
    """Say which parts of a ride between two marks were too short to be a section of their own."""
    return tuple(
        f'"{section.name}" at {section.start_s:.0f} s: {_rows_s(section.log):.1f} s are too short for a '
        f"section, which takes {LEAST_S:.0f} s"
        for section in _all(log)
        if section.name != BEFORE_THE_FIRST and _rows_s(section.log) < LEAST_S
    )


def _all(log: Log) -> Iterator[Section]:
    marks = sorted(log.marks, key=lambda mark: mark.t_s)
    if not marks or not log.segments:
        return
    begin, end = log.segments[0].start_s, log.segments[-1].end_s
    starts = [
        (min(begin, marks[0].t_s), BEFORE_THE_FIRST),
        *((mark.t_s, mark.text.strip()) for mark in marks),
    ]
    ends = [start for start, _ in starts[1:]] + [math.inf]
    seen: Counter[str] = Counter()
    for (start_s, text), end_s in zip(starts, ends, strict=True):
        name = text or "mark"
        seen[name] += 1
        yield Section(
            name=name if seen[name] == 1 else f"{name} {seen[name]}",
            start_s=max(start_s, begin),
            end_s=min(end_s, end),
            log=_between(log, start_s, end_s),
        )


def _between(log: Log, start_s: float, end_s: float) -> Log:
    """Keep what lies from one time up to but not including another."""
    gaps = tuple(gap for gap in log.gaps if start_s <= gap.t_s < end_s)
    lost = sum(gap.lost_samples for gap in gaps)
    return replace(
        log,
        segments=tuple(_cut(log.segments, start_s, end_s)),
        marks=tuple(mark for mark in log.marks if start_s <= mark.t_s < end_s),
        gaps=gaps,
        # Where on the way the link lost what no gap shows is not known: it belongs to the whole ride.
        link=replace(log.link, lost_samples=lost),
    )


def _cut(segments: tuple[Segment, ...], start_s: float, end_s: float) -> Iterator[Segment]:
    for segment in segments:
        first, last = (_row(segment, at_s) for at_s in (start_s, end_s))
        if first < last:
            yield replace(
                segment, start_s=segment.start_s + first * segment.dt_s, values=segment.values[first:last]
            )


def _row(segment: Segment, at_s: float) -> int:
    """Give the first row taken at a time or after it."""
    if math.isinf(at_s):
        return segment.rows
    return min(max(math.ceil((at_s - segment.start_s) / segment.dt_s - WHOLE), 0), segment.rows)


def _rows_s(log: Log) -> float:
    return sum(segment.rows * segment.dt_s for segment in log.segments)
