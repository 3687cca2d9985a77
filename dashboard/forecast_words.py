"""How often it would bottom, in words: per hour of the same riding, with its interval, or why not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.compare_results import BottomingForecast, Comparison
from analysis.tail import NOT_ENOUGH, UPPER_BOUND
from dashboard.units import NOTHING, number
from dashboard.wording import Table
from ingest.records import End

MEANS = (
    "Bottoming in an hour of the same riding: this route, this pace, this load, nothing else. The deepest "
    "bumps are continued to full travel by the theory of rare events (peaks over a threshold, generalised "
    "Pareto)."
)
TOO_FEW = "not enough data"


def forecast_table(comparison: Comparison) -> Table:
    """Write both ends before and after; empty where nothing was foretold."""
    rows = []
    for end in End:
        before, after = (_of(side, end) for side in (comparison.forecasts_before, comparison.forecasts_after))
        if before is not None or after is not None:
            rows.append((str(end), often(before), often(after)))
    return Table(head=("bottoming in an hour", "before", "after"), rows=tuple(rows))


def _of(forecasts: Sequence[BottomingForecast], end: End) -> BottomingForecast | None:
    return next((one for one in forecasts if one.end is end), None)


def often(forecast: BottomingForecast | None) -> str:
    """Write how often in an hour, and between what 95 in 100 lie.

    >>> often(BottomingForecast(end=End.REAR, per_hour=11.6, interval=(4.2, 31.0), basis="fitted tail",
    ...     peaks=60, events=2, hours=0.2, threshold_mm=150.0, shape=-0.1, scale_mm=20.0))
    '12 (4 to 31)'
    """
    if forecast is None:
        return NOTHING
    if forecast.interval is None:
        return TOO_FEW
    low, high = forecast.interval
    if forecast.basis == UPPER_BOUND or forecast.per_hour is None:
        return f"at most {_times(high)}"
    return f"{_times(forecast.per_hour)} ({_times(low)} to {_times(high)})"


def _times(per_hour: float) -> str:
    """Write a rate with as many digits as such a rate deserves."""
    return number(per_hour, 0 if per_hour >= 2 else 1)


def forecast_lines(comparison: Comparison) -> tuple[str, ...]:
    """Say of each end what the forecast rests on, and what is missing where there is none."""
    return tuple(dict.fromkeys(_lines(comparison)))


def _lines(comparison: Comparison) -> Iterator[str]:
    for side, forecasts in (("before", comparison.forecasts_before), ("after", comparison.forecasts_after)):
        for one in forecasts:
            if one.basis == NOT_ENOUGH:
                yield from (f"{side}, {caution}" for caution in one.cautions)
            else:
                yield f"{side}, {one.end}: {_rests_on(one)}"
                # That it holds for this route only is said once, over the table.
                yield from (f"{side}, {caution}" for caution in one.cautions if "clumps" in caution)


def _rests_on(one: BottomingForecast) -> str:
    met = {0: "it never bottomed", 1: "it bottomed once"}.get(one.events, f"it bottomed {one.events} times")
    return f"{met} in {number(60 * one.hours)} min; rests on the {one.peaks} deepest bumps"
