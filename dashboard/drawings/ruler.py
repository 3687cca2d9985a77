"""The upright ruler every drawing stands on: 0 (topped out) above, full bump below on hatched ground.

Left edge in mm or inches, right edge in % of the travel. The front has a single outline, the rear a
double one, so that the two ends are told apart without colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.drawings import svg
from dashboard.theme import Palette
from dashboard.units import MM_PER_INCH, Units, length_number
from ingest.records import End

PLATE_PX = 28.0  # height of the plate FRONT or REAR
HEAD_PX = 66.0  # plate and "topped out 0" above the ruler
FOOT_PX = 40.0  # hatch and "full bump" below it


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """Where a ruler stands in its drawing, px, and what it measures.

    ``shown_mm`` less than ``travel_mm`` cuts the ruler with a torn edge.
    """

    end: End
    travel_mm: float
    shown_mm: float
    left: float
    width: float
    top: float
    px_per_mm: float
    units: Units
    palette: Palette

    def y(self, value_mm: float) -> float:
        """Give the height of a travel in the drawing."""
        return self.top + value_mm * self.px_per_mm

    @property
    def right(self) -> float:
        """Right edge of the ruler."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Height at which the ruler ends or is torn."""
        return self.y(self.shown_mm)

    @property
    def middle(self) -> float:
        """Middle of the ruler."""
        return self.left + self.width / 2

    @property
    def hue(self) -> str:
        """Strong colour of this end."""
        return self.palette.hue(self.end)


def plate(end: End, middle: float, top: float, palette: Palette) -> str:
    """Draw the plate FRONT, or REAR with its second frame."""
    text = end.value.upper()
    width = svg.text_width_px(text, bold=True) + 18
    left = middle - width / 2
    hue = palette.hue(end)
    frame = ""
    if end is End.REAR:
        frame = svg.rect(left - 4, top - 4, width + 8, PLATE_PX + 8, stroke=hue, radius=5)
    filled = svg.rect(left, top, width, PLATE_PX, fill=hue, radius=2)
    return frame + filled + svg.label(middle, top + 14, text, palette.card, bold=True, anchor="middle")


def outline(ruler: Ruler) -> str:
    """Draw the body: ground, outline, topped-out line, and full bump or the torn edge."""
    colours = ruler.palette
    body = svg.rect(ruler.left, ruler.top, ruler.width, ruler.bottom - ruler.top, fill=colours.steel)
    sides = [svg.line(x, ruler.top, x, ruler.bottom, colours.ink) for x in (ruler.left, ruler.right)]
    if ruler.end is End.REAR:
        sides += [
            svg.line(x, ruler.top, x, ruler.bottom, colours.ink) for x in (ruler.left - 4, ruler.right + 4)
        ]
    zero = svg.line(ruler.left - 10, ruler.top, ruler.right + 10, ruler.top, colours.ink, 3)
    name = svg.label(ruler.middle, ruler.top - 14, "topped out 0", colours.ink, bold=True, anchor="middle")
    foot = _torn(ruler) if ruler.shown_mm < ruler.travel_mm else _full_bump(ruler)
    return body + "".join(sides) + zero + name + foot


def _full_bump(ruler: Ruler) -> str:
    colours = ruler.palette
    left, width = ruler.left - 10, ruler.width + 20
    text = f"full bump {length_number(ruler.travel_mm, ruler.units, 0)}"
    return (
        svg.line(left, ruler.bottom, left + width, ruler.bottom, colours.ink, 3)
        + svg.hatch(left, ruler.bottom + 2, width, 8, colours.ink)
        + svg.label(ruler.middle, ruler.bottom + 26, text, colours.ink, bold=True, anchor="middle")
    )


def _torn(ruler: Ruler) -> str:
    colours = ruler.palette
    out = 4 if ruler.end is End.REAR else 0
    left, right = ruler.left - out, ruler.right + out
    teeth = 7
    step = (right - left) / (2 * teeth)
    edge = [(left + step * i, ruler.bottom + (10 if i % 2 else 0)) for i in range(2 * teeth + 1)]
    text = f"goes on to {length_number(ruler.travel_mm, ruler.units, 0)}"
    return (
        svg.shape([*edge, (right, ruler.bottom - 2), (left, ruler.bottom - 2)], fill=colours.steel)
        + svg.shape(edge, stroke=colours.ink, closed=False)
        + svg.label(ruler.middle, ruler.bottom + 26, text, colours.ink2, anchor="middle")
    )


def graduation(
    ruler: Ruler,
    marks_mm: Sequence[float],
    *,
    numerals: bool = True,
    percents: bool = True,
    apart_px: float = 13,
) -> str:
    """Draw the two scales; a numeral gives way to a mark or a numeral nearer than ``apart_px``."""
    colours = ruler.palette
    small, middle, large, unit_mm = (
        (5, 10, 50, 1.0) if ruler.units is Units.MM else (1, 2, 8, MM_PER_INCH / 4)
    )
    taken = [ruler.y(mark) for mark in marks_mm] + [ruler.top, ruler.bottom]
    parts = []
    for step in range(small, int(ruler.shown_mm / unit_mm) + 1, small):
        y = ruler.y(step * unit_mm)
        size = 16 if step % large == 0 else 11 if step % middle == 0 else 7
        parts.append(svg.line(ruler.left, y, ruler.left + size, y, colours.ink, 1.6 if size == 16 else 1))
        if numerals and size == 16 and all(abs(y - other) > apart_px for other in taken):
            text = str(step) if ruler.units is Units.MM else str(step // 4)
            parts.append(svg.label(ruler.left + 19, y, text, colours.ink))
            taken.append(y)
    for percent in range(10, 100, 10):
        at_mm = ruler.travel_mm * percent / 100
        if at_mm > ruler.shown_mm:
            break
        y = ruler.y(at_mm)
        size = 14 if percent % 20 == 0 else 8
        parts.append(svg.line(ruler.right - size, y, ruler.right, y, colours.ink, 1.6 if size == 14 else 1))
        wanted = percent % 20 == 0 or ruler.shown_mm < ruler.travel_mm
        if numerals and percents and wanted and all(abs(y - other) > apart_px for other in taken):
            parts.append(svg.label(ruler.right - 17, y, f"{percent}%", colours.ink2, anchor="end"))
    return "".join(parts)


def mark(
    ruler: Ruler,
    value_mm: float,
    *,
    doubt_mm: float | None = None,
    left: float | None = None,
    right: float | None = None,
    dashed: bool = False,
) -> str:
    """Draw a value across the ruler, or across part of it: the band of its doubt, then the line."""
    x1 = ruler.left if left is None else left
    x2 = ruler.right if right is None else right
    y = min(max(ruler.y(value_mm), ruler.top), ruler.bottom)
    parts = []
    if doubt_mm is not None:
        top = max(ruler.y(value_mm - doubt_mm), ruler.top)
        low = min(ruler.y(value_mm + doubt_mm), ruler.bottom)
        soft = ruler.palette.soft(ruler.end)
        parts.append(svg.rect(x1, top, x2 - x1, max(low - top, 0.0), fill=soft))
        parts += [svg.line(x1, edge, x2, edge, ruler.hue, 1) for edge in (top, low)]
    dash = "6 4" if dashed else ""
    if ruler.end is End.REAR and not dashed:  # the double line of the rear
        parts += [svg.line(x1, y + off, x2, y + off, ruler.hue, 1.8) for off in (-2, 2)]
    else:
        parts.append(svg.line(x1, y, x2, y, ruler.hue, 3.4, dash=dash))
    return "".join(parts)


def bracket(ruler: Ruler, low_mm: float, high_mm: float) -> str:
    """Draw the target as a bracket at the right edge."""
    x = ruler.right + (14 if ruler.end is End.REAR else 10)
    top = max(ruler.y(low_mm), ruler.top)
    low = min(ruler.y(high_mm), ruler.bottom)
    return svg.shape(
        [(x, top), (x + 8, top), (x + 8, low), (x, low)],
        stroke=ruler.palette.ink,
        stroke_width=3,
        closed=False,
    )


def friction_bar(ruler: Ruler, value_mm: float, half_mm: float) -> str:
    """Draw friction left of the ruler: an I from settled from above to settled from below."""
    colours = ruler.palette
    x = ruler.left - 20
    top, low = ruler.y(value_mm - half_mm), ruler.y(value_mm + half_mm)
    middle = (top + low) / 2
    decimals = 1
    text = f"±{length_number(half_mm, ruler.units, decimals)}"
    return (
        svg.line(x, top, x, low, colours.ink, 2)
        + "".join(svg.line(x - 5, y, x + 5, y, colours.ink, 2) for y in (top, low))
        + svg.label(x - 11, middle - 10, "friction", colours.ink, anchor="end")
        + svg.label(x - 11, middle + 10, text, colours.ink, bold=True, anchor="end")
    )
