"""A calibration in words: what the sensor does, how well it is known, and a plot for a plain terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.sensor_calibration import Calibration, LaterPosition
from analysis.slant import Slant
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table
from ingest.records import End

HALF_PLOT = 15


def title(calibration: Calibration, end: End) -> str:
    """Say what was calibrated, from how much."""
    places, points = calibration.positions, len(calibration.points)
    ways = "both ways" if calibration.hysteresis_mm is not None else "one way"
    return f"{end} sensor: {points} points at {places} positions, {ways}"


def findings_table(calibration: Calibration, units: Units = Units.MM) -> Table:
    """Scale, offset, linearity, hysteresis: one row each."""
    return Table(head=("", ""), rows=tuple(_findings(calibration, units)))


def _findings(found: Calibration, units: Units) -> Iterator[tuple[str, str]]:
    scale = f"{show.length_number(found.scale_mm_per_count, units, 4)} {units} per count"
    if found.scale_se is not None:
        scale += f", standard uncertainty {show.length_number(found.scale_se, units, 5)}"
    offset = f"{show.length(found.offset_mm, units, 2)} at 0 counts"
    if found.offset_se is not None:
        offset += f", standard uncertainty {show.length_number(found.offset_se, units, 2)}"
    yield "scale", scale
    yield "offset", offset
    yield "range", _range(found, units)
    yield "converted by", "a straight line" if found.curve == "straight" else f"a {found.curve} curve"
    yield "linearity error", _linearity(found, units)
    yield "hysteresis", _hysteresis(found, units)
    if found.point_sd_mm is not None:
        yield "one position", f"good to {show.length(found.point_sd_mm, units, 2)} (standard uncertainty)"


def _range(found: Calibration, units: Units) -> str:
    low, high = (show.length_number(mm, units) for mm in found.range_mm)
    first, last = (show.number(counts, 0) for counts in found.range_counts)
    return f"{low} to {high} {units}, {first} to {last} counts"


def _linearity(found: Calibration, units: Units) -> str:
    if found.linearity_error_mm is None:
        return f"{NOTHING} (two positions cannot show it)"
    share = show.number(found.linearity_error_percent, 2)
    return f"{show.length(found.linearity_error_mm, units, 2)} ({share} % of the range)"


def _hysteresis(found: Calibration, units: Units) -> str:
    if found.hysteresis_mm is None:
        return f"{NOTHING} (no position was reached both ways)"
    return f"{show.length(found.hysteresis_mm, units, 2)} between up and down"


def residual_table(calibration: Calibration, units: Units = Units.MM) -> Table:
    """Each point with its distance from the straight line, and where that lies on a little scale."""
    largest = max((abs(off) for off in calibration.residuals_mm), default=0.0)
    rows = tuple(
        (
            show.length_number(point.mm, units),
            show.number(point.counts, 1),
            str(point.way or ""),
            show.length_number(off, units, 2, sign=True),
            plot_line(off, largest),
        )
        for point, off in zip(calibration.points, calibration.residuals_mm, strict=True)
    )
    return Table(head=(str(units), "counts", "way", "off the line", _scale(largest, units)), rows=rows)


def plot_line(off_mm: float, largest_mm: float) -> str:
    """Draw one residual on a scale whose half is the largest of them.

    >>> plot_line(0.5, 0.5), plot_line(-0.1, 0.5)
    ('|               :              *|', '|            *  :               |')
    """
    cells = [" "] * (2 * HALF_PLOT + 1)
    cells[HALF_PLOT] = ":"
    share = off_mm / largest_mm if largest_mm > 0 else 0.0
    cells[HALF_PLOT + round(share * HALF_PLOT)] = "*"
    return "|" + "".join(cells) + "|"


def _scale(largest_mm: float, units: Units) -> str:
    left, right = (show.length_number(value, units, 2, sign=True) for value in (-largest_mm, largest_mm))
    return left + right.rjust(2 * HALF_PLOT + 3 - len(left))


def about_line(aslant: Slant, end: End, units: Units = Units.MM) -> list[str]:
    """Say what a sensor that stands aslant would cost, how well that is put right, and what follows."""
    correction = aslant.correction
    stroke = show.length(correction.stroke_mm[-1], units)
    off = show.length(correction.largest_mm, units)
    left = show.length(2 * correction.standard_uncertainty_mm[-1], units)
    return [
        f"cosine error: the {end} sensor stands at {correction.angle_deg:.0f}° to the stroke; taken for the "
        f"stroke, its movement would be off by up to {off} over {stroke}. line in the bike file puts "
        f"that right to ±{left}",
        *aslant.cautions(end),
        f"with line, these positions have to be along the {end} sensor itself; were they set along the "
        "stroke, take line out of the bike file: the calibration holds the angle already",
    ]


def later_table(later: Sequence[LaterPosition], units: Units = Units.MM) -> Table:
    """What a later reading would be worth, from one end of the range to the other."""
    rows = tuple(
        (
            show.number(one.counts, 0),
            show.length_number(one.position_mm.value, units),
            f"± {show.length_number(one.position_mm.expanded_uncertainty, units, 2)}",
            show.number(one.position_mm.coverage_factor, 2),
            max(one.contributions, key=lambda part: part.standard_uncertainty_mm).cause,
        )
        for one in later
    )
    return Table(head=("counts", str(units), "95 in 100", "k", "mostly from"), rows=rows)
