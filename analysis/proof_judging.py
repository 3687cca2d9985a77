"""One promise against one measurement: the difference, its doubt, and a word for it."""

from __future__ import annotations

import math

from analysis.proof_results import Estimate, Promise
from analysis.results import Quantity
from ingest.records import End

TELLS_MM = 10.0
"""A doubt wider than this proves nothing: lowering parts come in steps of about as much (judgement)."""
FOUND_TRAVEL_MM = 3.0
"""A stop recognised in a ride is known to about this (judgement)."""


def estimate(quantity: Quantity | None) -> Estimate | None:
    """Write a quantity as an estimate."""
    if quantity is None:
        return None
    return around(quantity.value, quantity.expanded_uncertainty)


def around(value: float, half: float) -> Estimate:
    """Give a value give or take a half width."""
    return Estimate(value=value, interval=(value - half, value + half))


def moved(one: Estimate, by: float) -> Estimate:
    """Shift an estimate by an exact amount."""
    interval = None if one.interval is None else (one.interval[0] + by, one.interval[1] + by)
    return Estimate(value=one.value + by, interval=interval)


def less(measured: Estimate, promised: Estimate) -> Estimate:
    """Give measured less promised; independent doubts add by their squares, side by side."""
    value = measured.value - promised.value
    if measured.interval is None or promised.interval is None:
        return Estimate(value=value, interval=None)
    down = math.hypot(measured.value - measured.interval[0], promised.interval[1] - promised.value)
    up = math.hypot(measured.interval[1] - measured.value, promised.value - promised.interval[0])
    return Estimate(value=value, interval=(value - down, value + up))


def added(parts: list[tuple[float, Estimate]]) -> Estimate | None:
    """Add independent estimates, each times its share; ``None`` if one of them has no interval."""
    value = sum(share * part.value for share, part in parts)
    down = up = 0.0
    for share, part in parts:
        if part.interval is None:
            return None
        down = math.hypot(down, share * (part.value - part.interval[0]))
        up = math.hypot(up, share * (part.interval[1] - part.value))
    return Estimate(value=value, interval=(value - down, value + up))


def judged(
    name: str,
    end: End | None,
    *,
    before: Estimate | None,
    promised: Estimate | None,
    measured: Estimate | None,
    difference: Estimate | None = None,
    unit: str = "mm",
    tells_mm: float = TELLS_MM,
) -> Promise:
    """Put a word to a promise. ``difference`` is worked out from the other two where it is not given.

    A difference within a doubt wider than ``tells_mm`` shows nothing.
    """
    if difference is None and promised is not None and measured is not None:
        difference = less(measured, promised)
    return Promise(
        name=name,
        end=end,
        unit=unit,
        before=before,
        promised=promised,
        measured=measured,
        difference=difference,
        word=_word(promised, measured, difference, tells_mm),
    )


def _word(
    promised: Estimate | None, measured: Estimate | None, difference: Estimate | None, tells_mm: float
) -> str:
    if promised is None:
        return "not promised"
    if measured is None:
        return "not measured"
    if difference is None or difference.interval is None:
        return "cannot tell"
    low, high = difference.interval
    if low > 0.0:
        return "more"
    if high < 0.0:
        return "less"
    return "as promised" if (high - low) / 2 <= tells_mm else "cannot tell"
