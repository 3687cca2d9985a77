"""Accepted frames or lines → uniform segments and the gaps between them.

Every frame (or line) is stamped with the board's clock; its rows follow at a steady period. A stretch between
two losses becomes one segment, its period measured over the whole of it. Where a stamp would lie more than
half a period off such a grid, the stretch is cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from ingest.link import Lost
from ingest.log import Gap, Segment

UNEVEN = "the board's clock ran unevenly"
# Stamps looked at first when a stretch has to be cut.
FIRST_TRY = 64


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stretch:
    """Accepted stamps without a loss between them.

    ``time_us`` is when each stamp's first row was taken, ``row`` how many rows of the whole recording lie
    before it, both of shape (stamps,). ``stop_row`` is the row behind the last one. ``lost`` is what is
    missing before the stretch, ``period_us`` the stated or expected period.
    """

    time_us: npt.NDArray[np.int64]
    row: npt.NDArray[np.int64]
    stop_row: int
    period_us: float
    lost: Lost | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Rows on one uniform grid, and what is missing before them."""

    first_row: int
    stop_row: int
    start_us: float
    period_us: float
    lost: Lost | None

    @property
    def end_us(self) -> float:
        """Time at which the row after the last one would have come."""
        return self.start_us + (self.stop_row - self.first_row) * self.period_us


def cut_even(stretch: Stretch) -> list[Piece]:
    """Cut a stretch into few pieces, greedily; no stamp lies more than half a period off its piece's grid."""
    pieces: list[Piece] = []
    at, stamps = 0, len(stretch.time_us)
    while at < stamps:
        count = _longest_even(stretch, at)
        start_us, period_us, _ = _grid(stretch, at, count)
        pieces.append(
            Piece(
                first_row=int(stretch.row[at]),
                stop_row=int(stretch.row[at + count]) if at + count < stamps else stretch.stop_row,
                start_us=start_us,
                period_us=period_us,
                lost=Lost(UNEVEN, 0, False) if at else stretch.lost,
            )
        )
        at += count
    return pieces


def _longest_even(stretch: Stretch, at: int) -> int:
    """Count the stamps from ``at`` on that lie on one grid: by doubling, then by halving the doubt."""
    left = len(stretch.time_us) - at
    good, size = 1, FIRST_TRY
    while good < left:
        size = min(size, left)
        if not _grid(stretch, at, size)[2]:
            break
        good, size = size, size * 4
    else:
        return good
    bad = size
    while bad - good > 1:
        middle = (good + bad) // 2
        if _grid(stretch, at, middle)[2]:
            good = middle
        else:
            bad = middle
    return good


def _grid(stretch: Stretch, at: int, count: int) -> tuple[float, float, bool]:
    """Lay the best grid through some stamps: (start in µs, period in µs, no stamp more than half of it off).

    The stated period is kept where it is right to the microsecond, and where a stretch is too short to know
    better; otherwise period and start are fitted by least squares.
    """
    time = stretch.time_us[at : at + count]
    row = stretch.row[at : at + count]
    since, rows = (time - time[0]).astype(float), (row - row[0]).astype(float)
    if np.abs(since - rows * stretch.period_us).max() <= 1.0:
        return float(time[0]), stretch.period_us, True
    if count < FIRST_TRY:
        off = since - rows * stretch.period_us
        if np.abs(off - off.mean()).max() <= stretch.period_us / 2:
            return float(time[0] + off.mean()), stretch.period_us, True
    middle = rows.mean()
    period_us = float((rows - middle) @ since / ((rows - middle) @ (rows - middle)))
    start_us = float(since.mean() - period_us * middle)
    even = period_us > 0 and np.abs(since - start_us - rows * period_us).max() <= period_us / 2
    return float(time[0]) + start_us, period_us, bool(even)


def segments_and_gaps(
    pieces: list[Piece], counts: npt.NDArray[np.uint16]
) -> tuple[tuple[Segment, ...], tuple[Gap, ...]]:
    """Give the recording: time begins with the first sample, and between two segments lies one gap."""
    counts.setflags(write=False)
    zero_us = pieces[0].start_us if pieces else 0.0
    segments = tuple(
        Segment(
            start_s=(piece.start_us - zero_us) / 1e6,
            dt_s=piece.period_us / 1e6,
            values=counts[piece.first_row : piece.stop_row],
        )
        for piece in pieces
    )
    gaps = []
    for before, piece in pairwise(pieces):
        assert piece.lost is not None, "a new stretch begins only where something was lost"
        gaps.append(
            Gap(
                t_s=(before.end_us - zero_us) / 1e6,
                duration_s=max(0.0, piece.start_us - before.end_us) / 1e6,
                lost_samples=piece.lost.rows,
                exact=piece.lost.exact,
                reason=piece.lost.reason,
            )
        )
    return segments, tuple(gaps)
