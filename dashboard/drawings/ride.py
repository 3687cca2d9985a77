"""One ride of one end on its ruler, with grains: where the wheel spends its time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.ride_results import EndRide
from dashboard.drawings import svg
from dashboard.drawings.flags import Flag, Style, draw
from dashboard.drawings.ruler import FOOT_PX, HEAD_PX, Ruler, graduation, mark, outline, plate
from dashboard.theme import Palette
from dashboard.units import Units, length_number
from ingest.records import End

WIDTH = 66.0
LEFT = 176.0
TALL_PX = 320.0  # height of the longer of the two rulers
GRAIN_PX = 6.4  # height of a row of grains


def ride_ruler(
    end: End, ride: EndRide, units: Units, palette: Palette, *, px_per_mm: float, title: str
) -> str:
    """Draw the ruler of one end after a ride: mean, 95th percentile, deepest point, and grains."""
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
    flags = ride_flags(ride, units, (Style.FULL, Style.HOLLOW, Style.HOLLOW))
    marks = [flag.at_mm for flag in flags]
    body = "".join(
        [
            plate(end, ruler.middle, 6, palette),
            outline(ruler),
            graduation(ruler, marks),
            *(mark(ruler, at) for at in marks),
            draw(ruler, flags, right=False, low=ruler.top - 12, high=ruler.bottom + 12),
            grains(ruler, ride.grains_mm),
        ]
    )
    return svg.document(svg.WIDTH_PX, ruler.bottom + FOOT_PX, body, title, palette)


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where one end lived on one ride or on the mean of several, as far as a ruler shows it."""

    travel_mm: float
    mean_mm: float
    p95_mm: float
    travel_used_mm: float


def ride_flags(
    ride: EndRide | Places, units: Units, styles: tuple[Style, Style, Style], *, two_lines: bool = False
) -> list[Flag]:
    """Give the three flags of a ride: where it rides, what 5 % of the time is past, the deepest point."""
    named = (
        ("rides at", ride.mean_mm),
        ("5% past", ride.p95_mm),
        ("deepest", ride.travel_used_mm),
    )
    return [
        Flag(at_mm=at, lines=_lines(name, length_number(at, units, 0), two=two_lines), style=style)
        for (name, at), style in zip(named, styles, strict=True)
    ]


def _lines(name: str, number: str, *, two: bool) -> tuple[str, ...]:
    return (name, number) if two else (f"{name} {number}",)


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
