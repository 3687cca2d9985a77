"""A leverage survey in words: travel, play, and the leverage along the travel."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.leverage_survey import LeverageSurvey
from analysis.results import Quantity
from dashboard import units as show
from dashboard.calibration_words import plot_line
from dashboard.units import NOTHING, Units
from dashboard.wording import Table
from ingest.records import End, Suspension


def title(found: LeverageSurvey, end: End) -> str:
    """Say what was surveyed, from how much."""
    ways = "both ways" if found.play_mm is not None else "one way"
    return f"{end} linkage: {len(found.points)} readings at {found.positions} positions, {ways}"


def findings_table(found: LeverageSurvey, suspension: Suspension | None, units: Units = Units.MM) -> Table:
    """Travel, stroke, mean leverage, play: one row each."""
    return Table(head=("", ""), rows=tuple(_findings(found, suspension, units)))


def _findings(
    found: LeverageSurvey, suspension: Suspension | None, units: Units
) -> Iterator[tuple[str, str]]:
    yield "true wheel travel", f"{show.quantity(found.travel_mm, units)} {units}"
    if suspension is not None:
        yield "in the bike file", show.length(suspension.travel_mm, units)
    yield "shock stroke", show.length(found.stroke_mm, units)
    yield "mean leverage", _ratio(found.mean_leverage)
    play = NOTHING if found.play_mm is None else f"{show.quantity(found.play_mm, units)} {units}"
    yield "play", play
    yield "one height", f"good to {show.length(found.point_sd_mm, units, 2)} (standard uncertainty)"


def survey_table(found: LeverageSurvey, units: Units = Units.MM) -> Table:
    """Each reading with its distance from the smooth curve."""
    largest = max(abs(off) for off in found.residuals_mm)
    return Table(
        head=(f"axle {units}", "stroke", "way", "off the curve", ""),
        rows=tuple(
            (
                show.length_number(point.axle_mm, units),
                show.length_number(point.stroke_mm, units),
                str(point.way or ""),
                show.length_number(off, units, 2, sign=True),
                plot_line(off, largest),
            )
            for point, off in zip(found.points, found.residuals_mm, strict=True)
        ),
    )


def leverage_table(found: LeverageSurvey, units: Units = Units.MM) -> Table:
    """Leverage and its inverse along the travel."""
    return Table(
        head=(f"wheel {units}", f"stroke {units}", "leverage", "motion ratio"),
        rows=tuple(
            (
                show.length_number(row.wheel_mm, units),
                show.length_number(row.stroke_mm, units),
                _ratio(row.leverage),
                show.number(1 / row.leverage.value, 3),
            )
            for row in found.leverage
        ),
    )


def _ratio(value: Quantity) -> str:
    return f"{show.number(value.value, 3)} ± {show.number(value.expanded_uncertainty, 3)}"
