"""The paired ruler of one end: before on its left half, dashed; after on its right half, solid."""

from __future__ import annotations

from dashboard.drawings import svg
from dashboard.drawings.flags import Style, draw
from dashboard.drawings.ride import Places, ride_flags
from dashboard.drawings.ruler import FOOT_PX, HEAD_PX, Ruler, graduation, mark, outline, plate
from dashboard.theme import Palette
from dashboard.units import Units, length_number
from ingest.records import End

WIDTH = 56.0
TALL_PX = 300.0


def paired_ruler(
    end: End,
    before: Places,
    after: Places,
    units: Units,
    palette: Palette,
    *,
    px_per_mm: float,
    title: str,
) -> str:
    """Draw one end before and after the work on one ruler, aligned at topped out.

    Where the travel differs, the part that one of the two lacks is hatched and named.
    """
    ruler = Ruler(
        end=end,
        travel_mm=max(before.travel_mm, after.travel_mm),
        shown_mm=max(before.travel_mm, after.travel_mm),
        left=(svg.WIDTH_PX - WIDTH) / 2,
        width=WIDTH,
        top=HEAD_PX,
        px_per_mm=px_per_mm,
        units=units,
        palette=palette,
    )
    was = ride_flags(before, units, (Style.DASHED, Style.DASHED, Style.DASHED), two_lines=True)
    now = ride_flags(after, units, (Style.FULL, Style.FULL, Style.FULL), two_lines=True)
    body = "".join(
        [
            plate(end, ruler.middle, 6, palette),
            outline(ruler),
            _missing(ruler, before.travel_mm, after.travel_mm),
            graduation(ruler, [], numerals=False),
            svg.line(ruler.middle, ruler.top, ruler.middle, ruler.bottom, palette.ink),
            *(mark(ruler, flag.at_mm, right=ruler.middle, dashed=True) for flag in was),
            *(mark(ruler, flag.at_mm, left=ruler.middle) for flag in now),
            draw(ruler, was, right=False, low=ruler.top - 14, high=ruler.bottom + 2),
            draw(ruler, now, right=True, low=ruler.top - 14, high=ruler.bottom + 2),
            _missing_name(ruler, before.travel_mm, after.travel_mm),
        ]
    )
    return svg.document(svg.WIDTH_PX, ruler.bottom + FOOT_PX + 24, body, title, palette)


def _missing(ruler: Ruler, before_mm: float, after_mm: float) -> str:
    """Hatch the travel that one side has and the other has not."""
    if before_mm == after_mm:
        return ""
    left = ruler.left if before_mm < after_mm else ruler.middle
    top = ruler.y(min(before_mm, after_mm))
    ground = svg.rect(left, top, ruler.width / 2, ruler.bottom - top, fill=ruler.palette.card)
    edge = svg.line(left, top, left + ruler.width / 2, top, ruler.palette.ink, 3)
    return (
        ground + svg.hatch(left, top, ruler.width / 2, ruler.bottom - top, ruler.palette.ink, step=7) + edge
    )


def _missing_name(ruler: Ruler, before_mm: float, after_mm: float) -> str:
    if before_mm == after_mm:
        return ""
    side = "before" if before_mm < after_mm else "after"
    text = f"hatched: {side} ends at {length_number(min(before_mm, after_mm), ruler.units, 0)}"
    return svg.label(ruler.middle, ruler.bottom + 48, text, ruler.palette.ink2, anchor="middle")
