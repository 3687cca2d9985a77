"""Travel thinned for the screen, and which stretch of it a person looks at.

Only what the screen can show is sent: at most `POINTS` points a trace for the stretch in view, the
least and the greatest of each of a thousand stretches, so that every peak stays. Zooming asks for the
stretch again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
from tsdownsample import MinMaxDownsampler, NaNMinMaxDownsampler

from analysis.calibration import Floats, Samples
from analysis.motion import EndMotion
from dashboard.units import Units, duration, in_units, number
from ingest.records import End

POINTS = 2000
_STEPS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)

View = tuple[float, float]


def thinned(motion: EndMotion, view: View, units: Units) -> tuple[Floats, Floats]:
    """Thin the travel in view to about `POINTS` points; gaps and masked samples stay open (NaN)."""
    parts = []
    for segment in motion.segments:
        size = segment.travel_mm.size
        first = min(max(int((view[0] - segment.start_s) / segment.dt_s) - 1, 0), size)
        last = min(max(int((view[1] - segment.start_s) / segment.dt_s) + 2, 0), size)
        if last > first:
            parts.append((segment, first, last))
    total = sum(last - first for _, first, last in parts)
    times: list[Floats] = []
    travels: list[Floats] = []
    open_end = np.array([np.nan])
    for segment, first, last in parts:
        values = segment.travel_mm[first:last]
        share = max(int(POINTS * (last - first) / total) // 2 * 2, 4)  # two for each stretch: least, greatest
        chosen = _chosen(values, share)
        at_s = np.asarray(segment.start_s + (first + chosen) * segment.dt_s, dtype=np.float64)
        times += [at_s, open_end]
        travels += [values[chosen].astype(float), open_end]
    if not times:
        return np.empty(0), np.empty(0)
    mm = np.concatenate(travels)[:-1]
    return np.concatenate(times)[:-1], mm if units is Units.MM else in_units(1.0, units) * mm


def _chosen(values: Samples, share: int) -> npt.NDArray[np.int64]:
    if values.size <= share:
        return np.arange(values.size)
    kind = NaNMinMaxDownsampler if np.isnan(values).any() else MinMaxDownsampler
    tool: Any = kind()
    chosen: npt.NDArray[np.int64] = tool.downsample(np.ascontiguousarray(values), n_out=share).astype(
        np.int64
    )
    return chosen


def time_ticks(view: View) -> tuple[list[float], list[str]]:
    """Choose at most six round times in a stretch and write them as minutes and seconds.

    >>> time_ticks((0.0, 150.0))
    ([0, 30, 60, 90, 120, 150], ['0:00', '0:30', '1:00', '1:30', '2:00', '2:30'])
    """
    span = max(view[1] - view[0], 1e-3)
    step = next((step for step in _STEPS_S if span / step <= 5.5), _STEPS_S[-1])
    first = int(np.ceil(view[0] / step - 1e-9))
    last = int(np.floor(view[1] / step + 1e-9))
    at = [i * step for i in range(first, last + 1)]
    decimals = 0 if step >= 1 else 1 if step >= 0.1 else 2
    return at, [duration(t) if not decimals else f"{number(t, decimals)} s" for t in at]


def whole_view(motions: Mapping[End, EndMotion]) -> View:
    """Give the stretch that holds everything."""
    starts = [m.segments[0].start_s for m in motions.values() if m.segments]
    ends = [
        m.segments[-1].start_s + m.segments[-1].travel_mm.size * m.segments[-1].dt_s
        for m in motions.values()
        if m.segments
    ]
    return (min(starts, default=0.0), max(ends, default=1.0))


def asked_view(relayout: Mapping[str, Any] | None, whole: View) -> View | None:
    """Read from plotly's message which stretch a person zoomed to; ``None`` where it says nothing of time."""
    if not relayout:
        return None
    if relayout.get("xaxis.autorange"):
        return whole
    given: Any = relayout.get("xaxis.range") or (
        relayout.get("xaxis.range[0]"),
        relayout.get("xaxis.range[1]"),
    )
    try:
        low, high = float(given[0]), float(given[1])
    except (TypeError, ValueError, IndexError, KeyError):
        return None
    low, high = max(min(low, high), whole[0]), min(max(low, high), whole[1])
    return (low, high) if high > low else None
