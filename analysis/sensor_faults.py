"""Readings that cannot be motion: found, named, and left out. Nothing is put in their place.

Five things go wrong with a potentiometer on a motorcycle. Its reading jumps for a sample or two (``spike``),
stands still while the wheel moves (``stuck``), lies at an end of what the converter or the calibration can
tell (``at a rail``), falls away and comes back (``dropout``: plug, cable), or is pulled in too slowly by a
tired reel (``slack string``). Stretches are looked at one by one; nothing reaches across a gap.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from analysis.calibration import Samples
from analysis.excursions import runs
from analysis.jumps import jumps, ridden_pieces
from analysis.slack_string import slack_string
from analysis.straight_ramps import StringTrace
from analysis.stuck_sensor import STILL_NOISES, STILL_UNITS, Trace, stuck_spans

Values = npt.NDArray[np.generic]

SPIKE, STUCK, RAIL, DROPOUT, SLACK = "spike", "stuck", "at a rail", "dropout", "slack string"

SPIKE_S, SPIKE_SAMPLES = 0.003, 2
"""A wheel thrown out and back at impossible speed within this time is a spike; longer is a dropout."""

RAIL_S, AWAY_S = 1.0, 3.0
"""A plug that is off for longer than a second is said to leave the reading at a rail; one that leaves it
standing still somewhere else is a dropout for up to three."""

END_SHARE = 0.03
"""Closer to topped out or full bump than this share of the travel, an end of the converter is a possible
place."""

FLAT_S = 0.05


Known = tuple[str, int, int]
"""Kind (empty: out of range), first sample, and the one after the last."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Readings:
    """What one sensor read: stretches of shape (n,) each, at intervals, and wheel mm of one unit (signed).

    ``noise`` is the standard deviation of its noise, rounding included, in units; ``rails`` the codes at the
    ends of the converter, as far as known.
    """

    stretches: Sequence[Values]
    intervals_s: Sequence[float]
    mm_each: float
    noise: float
    rails: tuple[int, ...] = ()

    def trace(self, number: int) -> Trace:
        """Give one stretch by itself."""
        return Trace(
            values=self.stretches[number],
            dt_s=self.intervals_s[number],
            mm_each=self.mm_each,
            noise=self.noise,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Samples ``first`` up to but not including ``stop`` of one stretch."""

    stretch: int
    kind: str
    first: int
    stop: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Faults:
    """All faults of one end in order of time, and the speed of the reel where a string hung slack."""

    spans: tuple[Fault, ...]
    reel_mm_s: float | None = None


def find_faults(
    own: Readings,
    travels: Sequence[Samples],
    other: Readings | None,
    *,
    full_mm: float,
    all_in_range: bool,
    ridden: bool,
) -> Faults:
    """Find what cannot be motion.

    Parameters
    ----------
    own : Readings
        The end in question.
    travels : sequence of ndarray
        Its wheel travel in mm, one a stretch; NaN where the reading is too far out to convert.
    other : Readings or None
        The other end, row by row at the same times.
    full_mm : float
        Full travel.
    all_in_range : bool
        Whether it is known already that nothing is NaN and no code is at an end of the converter.
    ridden : bool
        Whether this is a ride. In a sag check bikes stand still and move slowly: nothing there is called
        stuck or slack.
    """
    spans: list[Fault] = []
    for number, travel in enumerate(travels):
        trace = own.trace(number)
        known = [] if all_in_range else _out_of_range(trace, own.rails, travel, full_mm)
        if ridden:
            stuck = stuck_spans(trace, travel, None if other is None else other.trace(number))
            known += [(STUCK, a, b) for a, b in stuck.pairs()]
        spans += [
            Fault(stretch=number, kind=kind, first=first, stop=stop)
            for kind, first, stop in _broken(trace, known)
        ]
    slack = slack_string(_string(own, spans)) if ridden else None
    if slack is None:
        return Faults(spans=tuple(spans))
    spans += [
        Fault(stretch=number, kind=SLACK, first=first, stop=stop)
        for number, found in enumerate(slack.spans)
        for first, stop in found.pairs()
    ]
    spans.sort(key=lambda span: (span.stretch, span.first))
    return Faults(spans=tuple(spans), reel_mm_s=slack.reel_mm_s)


def _out_of_range(trace: Trace, rails: tuple[int, ...], travel_mm: Samples, full_mm: float) -> list[Known]:
    """Find readings too far out, and those at an end of the converter where no end of the travel is."""
    found = [("", first, stop) for first, stop in runs(np.isnan(travel_mm)).pairs()]
    margin = END_SHARE * full_mm
    for code in rails:
        there = trace.values == code
        if there.any() and margin < travel_mm[np.argmax(there)] < full_mm - margin:
            found += [(RAIL, first, stop) for first, stop in runs(there).pairs()]
    return found


def _broken(trace: Trace, known: list[Known]) -> Iterator[Known]:
    """Join what is known to be wrong with what jumps show to be wrong; name each span."""
    jumped = jumps(trace.values, trace.dt_s, trace.mm_each)
    if not jumped.size and not known:
        return
    wrong = np.zeros(trace.values.size, dtype=np.bool_)
    for _, first, stop in known:
        wrong[first:stop] = True
    if jumped.size:
        pieces = _pieces(wrong, jumped)
        ridden = ridden_pieces(pieces, trace.values, trace.dt_s, trace.mm_each)
        for (first, stop), good in zip(pieces, ridden, strict=True):
            wrong[first:stop] |= not good
    edges = frozenset(jumped.tolist())
    for first, stop in runs(wrong).pairs():
        inside = [(kind, a, b) for kind, a, b in known if a < stop and b > first]
        if kind := _kind(trace, (first, stop), inside, edges):
            yield kind, first, stop


def _pieces(wrong: npt.NDArray[np.bool_], jumped: npt.NDArray[np.intp]) -> list[tuple[int, int]]:
    """Cut what is not yet known to be wrong at the jumps."""
    cuts = jumped + 1
    pieces = []
    for first, stop in runs(~wrong).pairs():
        inside = cuts[np.searchsorted(cuts, first, side="right") : np.searchsorted(cuts, stop)].tolist()
        pieces += list(pairwise([first, *inside, stop]))
    return pieces


def _kind(trace: Trace, span: tuple[int, int], inside: Sequence[Known], jumped: frozenset[int]) -> str | None:
    """Name a span; ``None`` for a wheel that went smoothly beyond the calibration, which is no fault."""
    first, stop = span
    seconds = (stop - first) * trace.dt_s
    jumps_in, jumps_out = first - 1 in jumped, stop - 1 in jumped
    stood = sum(b - a for kind, a, b in inside if kind == STUCK)
    out = sum(b - a for kind, a, b in inside if kind != STUCK)
    if 2 * stood > stop - first:
        return DROPOUT if jumps_in and jumps_out and seconds <= AWAY_S else STUCK
    if (jumps_in or jumps_out) and stop - first <= max(SPIKE_SAMPLES, round(SPIKE_S / trace.dt_s)):
        return SPIKE
    if 2 * out <= stop - first:
        return DROPOUT
    if seconds > RAIL_S:
        return RAIL
    if jumps_in or jumps_out:
        return DROPOUT
    if any(kind == RAIL for kind, _, _ in inside):
        return RAIL
    flat = float(np.ptp(trace.values[first:stop].astype(float))) <= 2.0 * max(
        STILL_UNITS, STILL_NOISES * trace.noise
    )
    return RAIL if flat and seconds >= FLAT_S else None


def _string(own: Readings, spans: Sequence[Fault]) -> StringTrace:
    """Give the readings without what is wrong in other ways."""
    stretches = list(own.stretches)
    for span in spans:
        if (
            stretches[span.stretch].dtype.kind != "f"
            or stretches[span.stretch] is own.stretches[span.stretch]
        ):
            stretches[span.stretch] = stretches[span.stretch].astype(float)
        stretches[span.stretch][span.first : span.stop] = np.nan
    return StringTrace(stretches=stretches, intervals_s=own.intervals_s, mm_each=own.mm_each, noise=own.noise)
