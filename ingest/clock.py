"""The board's clock: 32 bits of microseconds, so it wraps every 71.6 minutes.

The difference of two readings is taken modulo 2³² and read as a signed number. A step forward across the
wrap then is a small positive number, and a repeat or a late frame is a small negative one.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from ingest.link import CLOCK_WRAP_US

# A board that shows less than this cannot have been running for long.
JUST_STARTED_US = 60_000_000


def signed_difference(later: int, earlier: int) -> int:
    """Give ``later - earlier`` of two 32-bit numbers, between −2³¹ and 2³¹ − 1.

    >>> signed_difference(5, 0xFFFFFFFB)
    10
    >>> signed_difference(100, 130)
    -30
    """
    return ((later - earlier + (1 << 31)) & 0xFFFFFFFF) - (1 << 31)


def steps(readings: npt.NDArray[np.uint32]) -> npt.NDArray[np.int64]:
    """Give the signed 32-bit difference of each reading to the one before; one shorter than the input."""
    return np.diff(readings).view(np.int32).astype(np.int64)


def time_across_break_us(last: int, new: int, host_gap_s: float | None) -> int:
    """Bound the time between two clock readings when the board may have begun anew between them.

    Parameters
    ----------
    last, new
        Clock readings in µs before and after.
    host_gap_s
        How long nothing came by the computer's clock, if that was noted.

    Returns
    -------
    int
        µs, never negative. The board's clock is believed where it agrees with the computer's within a second
        and one per cent. Without the computer's, a clock that restarted gives the least time there was: what
        it shows now.
    """
    if host_gap_s is not None:
        host_us = round(host_gap_s * 1e6)
        wraps = max(0, round((host_us - (new - last)) / CLOCK_WRAP_US))
        by_board = new - last + wraps * CLOCK_WRAP_US
        agrees = by_board >= 0 and abs(by_board - host_us) <= 1_000_000 + host_us // 100
        return by_board if agrees else host_us
    step = signed_difference(new, last)
    if new < JUST_STARTED_US and not 0 < step <= JUST_STARTED_US:
        return new
    return max(step, 0)
