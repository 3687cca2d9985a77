"""When a wheel hung free: at the top of its travel for longer than a mere topping, in the middle of a ride.

What is seen is the suspension fully extended, not the tyre leaving the ground. It takes the suspension a
good tenth of a second to extend once the tyre is in the air, so a span begins that much late; it ends with
the landing, to 10 ms. On the virtual bike 96 of 100 such spans are with the tyre in the air, and 4 in 5
flights of 0.2 s or more show; a shorter one can be over before the suspension has extended.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.excursions import runs
from analysis.motion import EndMotion, MotionSegment
from analysis.ride_results import Span

HANGING_MM = 2.0
LEAST_S = 0.08
LONGEST_S = 3.0
"""Nobody flies for this long: the bike stands on its stand, or somebody holds it up."""

NOISE_S = 0.02
"""A reading that leaves the top for less than this has not left it."""


def off_ground(motion: EndMotion) -> tuple[Span, ...]:
    """Find the spans one wheel hung free, in order of time.

    Within 2 mm of topped out for 0.08 s to 3 s. A span that is cut by a gap or by masked samples is left out,
    because it is not known how long it was.
    """
    return tuple(span for part in motion.segments for span in _spans(part))


def _spans(part: MotionSegment) -> Iterator[Span]:
    found = runs(part.travel_mm <= HANGING_MM).merged(NOISE_S / part.dt_s)
    for first, end in zip(found.first.tolist(), found.end.tolist(), strict=True):
        inside = first > 0 and end < part.travel_mm.size
        if not (inside and LEAST_S <= (end - first) * part.dt_s <= LONGEST_S):
            continue
        if not np.isnan(part.travel_mm[first - 1 : end + 1]).any():
            yield Span(
                kind="off the ground",
                start_s=part.start_s + first * part.dt_s,
                end_s=part.start_s + end * part.dt_s,
            )
