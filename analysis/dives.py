"""Dives and squats: the spans in which braking or driving pitched the bike.

Braking throws weight forward: the front goes down and the rear comes up, both and for as long as it lasts.
A bump lifts both ends one after the other, and a hill or a rider who moves changes the pitch more slowly and
by less. So a dive is a span in which the low-passed nose is down against its usual by `DIVE_MM` or more, with
both ends taking their part in it. What is measured is the pitch as a difference of heights, front down plus
rear up, which needs no wheelbase: on 1500 mm of it, 25 mm are about 1°.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.excursions import runs
from analysis.ride_results import Span

Floats = npt.NDArray[np.float64]

LOW_PASS_S = 0.6
DIVE_MM = 25.0
OWN_PART_MM = 5.0
LEAST_S = 0.5
JOINED_S = 0.3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BothEnds:
    """One gap-free stretch of both ends: front and rear travel in mm, shape (n,); NaN where one is masked."""

    start_s: float
    step_s: float
    front_mm: Floats
    rear_mm: Floats


def dives_and_squats(stretches: Iterable[BothEnds]) -> tuple[tuple[Span, ...], tuple[Span, ...]]:
    """Find the dives (front down, rear up) and the squats (the reverse) of a ride, half a second or longer.

    Usual is the median of the ride at each end. Times count from the first sample of the log.
    """
    known = [part for part in stretches if part.front_mm.size]
    if not known:
        return (), ()
    usual_front, usual_rear = (
        _median(np.concatenate(each))
        for each in ([part.front_mm for part in known], [part.rear_mm for part in known])
    )
    dives: list[Span] = []
    squats: list[Span] = []
    for part in known:
        width = 2 * round(LOW_PASS_S / part.step_s / 2) + 1
        down = _low_passed(part.front_mm, width) - usual_front
        up = usual_rear - _low_passed(part.rear_mm, width)
        dives += _spans("dive", part, down, up)
        squats += _spans("squat", part, -down, -up)
    return tuple(dives), tuple(squats)


def _spans(kind: str, part: BothEnds, one_mm: Floats, other_mm: Floats) -> Iterable[Span]:
    both = (one_mm + other_mm >= DIVE_MM) & (one_mm >= OWN_PART_MM) & (other_mm >= OWN_PART_MM)
    found = runs(both).merged(JOINED_S / part.step_s)
    for first, end in zip(found.first.tolist(), found.end.tolist(), strict=True):
        if (end - first) * part.step_s >= LEAST_S:
            yield Span(
                kind=kind, start_s=part.start_s + first * part.step_s, end_s=part.start_s + end * part.step_s
            )


def _low_passed(values: Floats, width: int) -> Floats:
    """Give the mean over a window around each sample; NaN where it is not wholly known."""
    smooth = np.full(values.shape, np.nan)
    if values.size >= width:
        half = width // 2
        smooth[half : values.size - half] = np.convolve(values, np.full(width, 1.0 / width), "valid")
    return smooth


def _median(values: Floats) -> float:
    valid = values[np.isfinite(values)]
    return float(np.median(valid)) if valid.size else float("nan")
