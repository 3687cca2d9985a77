"""What two rides of one setup differ by that chance inside a ride does not know: road, pace, warm oil.

One ride a side cannot tell a rougher lap from a softer spring. How rough the road was is measured on both
sides and may account for a part of every change: that part widens each interval, so that it is never sold as
the work's. What cannot be measured is allowed for as rides usually differ.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.results import Quantity

USUAL_ROUGHNESS = 0.15
"""Rides on one route by one rider come out this much rougher or smoother at most, pace included, as a share
(common practice, no source; all between is as likely)."""

REST = 0.03
"""What warm oil, tyres and another line add or take without being seen in the roughness, as a share of what a
number grows by with the road: one standard deviation of one ride (common practice, no source)."""

EVENTS_GROW = 3.0
"""Bottoming and topping come more often by the third power of roughness or so (the virtual bike: between half
a power for frequent ones and many for rare ones)."""


def unlike_rides(before: Sequence[Quantity | None], after: Sequence[Quantity | None]) -> float:
    """Give how far the roads of both sides may be apart without anybody knowing: a standard deviation.

    Parameters
    ----------
    before, after : sequence of Quantity or None
        Roughness of each run as one end met it (`analysis.roughness.roughness`), ``None`` where unknown.

    Returns
    -------
    float
        Of the natural logarithm of after over before: 0.1 is 10 % rougher. The measured difference counts as
        if all of it were there, weighed against its doubt and what is usual; where nothing was measured it is
        what is usual.
    """
    usual = USUAL_ROUGHNESS / math.sqrt(3.0) * math.sqrt(1 / len(before) + 1 / len(after))
    rest = REST * math.sqrt(1 / len(before) + 1 / len(after))
    known = [[one for one in side if one is not None] for side in (before, after)]
    if len(known[0]) < len(before) or len(known[1]) < len(after):
        return math.hypot(usual, rest)
    logs = [sum(math.log(one.value) for one in side) / len(side) for side in known]
    doubts = [
        math.hypot(*(one.expanded_uncertainty / one.coverage_factor / one.value for one in side)) / len(side)
        for side in known
    ]
    apart, doubt = logs[1] - logs[0], math.hypot(*doubts)
    usual = max(usual, abs(apart))
    weight = usual**2 / (usual**2 + doubt**2)
    return math.hypot(weight * apart, math.sqrt(weight) * doubt, rest)
