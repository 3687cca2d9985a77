"""One ride of one end on its ruler, with grains: where the wheel spends its time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from analysis.results import Quantity
from analysis.ride_results import EndRide
from dashboard.drawings import svg
from dashboard.drawings.flags import Flag, Style, draw
from dashboard.drawings.ruler import FOOT_PX, HEAD_PX, Ruler, graduation, mark, outline, plate
from dashboard.height_words import ride_position
from dashboard.theme import Palette
from dashboard.units import Units, length_number
from ingest.records import End

WIDTH = 66.0
LEFT = 194.0
TALL_PX = 320.0  # height of the longer of the two rulers
GRAIN_PX = 6.4  # height of a row of grains


def ride_ruler(
    end: End,
    ride: EndRide,
    units: Units,
    palette: Palette,
    *,
    px_per_mm: float,
    title: str,
    rider_sag: Quantity | None = None,
) -> str:
    """Draw the ruler of one end after a ride: where it rides, its sag at rest, the deepest point, grains."""
    ruler = Ruler(
        end=end,
        travel_mm=ride.travel_mm,
        shown_mm=ride.travel_mm,
        left=LEFT,
        width=WIDTH,
        top=HEAD_PX,
        px_per_mm=px_per_mm,
        units=units,
        palette=palette,
    )
    flags = _flags(ride, units, rider_sag)
    marks = [flag.at_mm for flag in flags]
    body = "".join(
        [
            plate(end, ruler.middle, 6, palette),
            outline(ruler),
            _found_stop(ruler, ride.found_travel_mm),
            _interval(ruler, ride),
            graduation(ruler, marks),
            *(mark(ruler, flag.at_mm, dashed=flag.style is Style.DASHED) for flag in flags),
            draw(ruler, flags, right=False, low=ruler.top - 12, high=ruler.bottom + 22),
            grains(ruler, ride.grains_mm),
        ]
    )
    return svg.document(svg.WIDTH_PX, ruler.bottom + FOOT_PX, body, title, palette)


def _flags(ride: EndRide, units: Units, rider_sag: Quantity | None) -> list[Flag]:
    """Name the marks of a ride; the first and the deepest say how much travel is left from there."""
    left, left_deepest = _left(ride, units)
    flags = [
        Flag(at_mm=ride.mean_mm, lines=(f"rides at {ride_position(ride, units)}", *left)),
        Flag(at_mm=ride.p95_mm, lines=_lines("5% past", ride.p95_mm, units), style=Style.HOLLOW),
        Flag(
            at_mm=ride.travel_used_mm,
            lines=(*_lines("deepest", ride.travel_used_mm, units), *left_deepest),
            style=Style.HOLLOW,
        ),
    ]
    if rider_sag is not None:  # from before the ride, so dashed as everything from before
        lines = _lines("rider sag", rider_sag.value, units)
        flags.append(Flag(at_mm=rider_sag.value, lines=lines, style=Style.DASHED))
    if ride.found_travel_mm is not None:
        lines = _lines("stop at", ride.found_travel_mm, units)
        flags.append(Flag(at_mm=ride.found_travel_mm, lines=lines, style=Style.HOLLOW))
    return flags


def _left(ride: EndRide, units: Units) -> tuple[tuple[str, ...], tuple[str, ...]]:
    if ride.height is None:
        return (), ()
    at_ride, deepest = ride.height.left_mm, max(ride.height.left_at_deepest_mm, 0.0)
    return (f"{length_number(at_ride, units, 0)} left",), (f"{length_number(deepest, units, 0)} left",)


def _lines(name: str, at_mm: float, units: Units) -> tuple[str, ...]:
    return (f"{name} {length_number(at_mm, units, 0)}",)


def _interval(ruler: Ruler, ride: EndRide) -> str:
    """Draw the interval of the mean ride position, to scale, as a soft band with thin edges."""
    if ride.height is None or ride.height.interval_mm is None:
        return ""
    top, low = (min(max(ruler.y(mm), ruler.top), ruler.bottom) for mm in sorted(ride.height.interval_mm))
    band = svg.rect(ruler.left, top, ruler.width, low - top, fill=ruler.palette.soft(ruler.end))
    return band + "".join(svg.line(ruler.left, y, ruler.right, y, ruler.hue, 1) for y in (top, low))


def _found_stop(ruler: Ruler, found_mm: float | None) -> str:
    """Hatch the travel beyond the stop that was found: it is in the book, not on the bike."""
    if found_mm is None:
        return ""
    y, ink = min(max(ruler.y(found_mm), ruler.top), ruler.bottom), ruler.palette.ink
    ground = svg.rect(ruler.left, y, ruler.width, ruler.bottom - y, fill=ruler.palette.card)
    hatch = svg.hatch(ruler.left, y, ruler.width, ruler.bottom - y, ink)
    return ground + hatch + svg.line(ruler.left - 10, y, ruler.right + 10, y, ink, 3)


def grains(ruler: Ruler, values_mm: Sequence[float]) -> str:
    """Stack one grain for each hundredth of the ride outward: full in front, hollow at the rear."""
    rows = Counter(int((ruler.y(value) - ruler.top) // GRAIN_PX) for value in values_mm)
    first = ruler.right + 12
    room = svg.WIDTH_PX - first - 4
    pitch = min(GRAIN_PX, room / max(max(rows.values(), default=1), 1))
    full = ruler.end is End.FRONT
    parts = []
    for row, count in sorted(rows.items()):
        y = ruler.top + (row + 0.5) * GRAIN_PX
        for place in range(count):
            x = first + place * pitch + pitch / 2
            radius = min(2.7, pitch / 2 - 0.2)
            parts.append(
                svg.circle(x, y, radius, fill=ruler.hue)
                if full
                else svg.circle(x, y, radius - 0.4, stroke=ruler.hue)
            )
    return "".join(parts)
