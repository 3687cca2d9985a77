"""The paired ruler of one end: before on its left half, dashed; after on its right half, solid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from analysis.results import Quantity
from dashboard.drawings import svg
from dashboard.drawings.flags import Flag, Style, draw
from dashboard.drawings.ruler import FOOT_PX, HEAD_PX, Ruler, bracket, mark, outline, plate
from dashboard.theme import Palette
from dashboard.units import MM_PER_INCH, Units, length_number
from ingest.records import End

WIDTH = 56.0
TALL_PX = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where one end lived on one ride or on the mean of several, as far as a ruler shows it.

    ``doubt_mm`` is half of the interval of the mean, ``target_mm`` where rider sag should be.
    """

    travel_mm: float
    mean_mm: float
    p95_mm: float
    travel_used_mm: float
    doubt_mm: float | None = None
    rider_sag: Quantity | None = None
    target_mm: tuple[float, float] | None = None


def paired_ruler(
    end: End,
    before: Places,
    after: Places,
    units: Units,
    palette: Palette,
    *,
    px_per_mm: float,
    title: str,
    full_bump_stayed: bool = False,
    brief: bool = False,
) -> str:
    """Draw one end before and after the work on one ruler.

    Where the travel differs, the two are aligned at topped out, or at full bump where that stayed; what one
    of them lacks is hatched and named. ``brief`` is for a low ruler: sag, ride position and deepest alone.
    """
    longest = max(before.travel_mm, after.travel_mm)
    body = Ruler(
        end=end,
        travel_mm=longest,
        shown_mm=longest,
        left=(svg.WIDTH_PX - WIDTH) / 2,
        width=WIDTH,
        top=HEAD_PX,
        px_per_mm=px_per_mm,
        units=units,
        palette=palette,
    )
    was, now = (
        _half(body, places.travel_mm, right=right, full_bump_stayed=full_bump_stayed)
        for places, right in ((before, False), (after, True))
    )
    limits = {"low": body.top - 14, "high": body.bottom + 2}
    parts = [
        plate(end, body.middle, 6, palette),
        outline(body),
        *(_missing(body, half) for half in (was, now)),
        _ticks_mm(was),
        _ticks_percent(now),
        svg.line(body.middle, body.top, body.middle, body.bottom, palette.ink),
        _marks(was, before, dashed=True, brief=brief),
        _marks(now, after, dashed=False, brief=brief),
        _bracket(now, after),
        draw(was, list(_flags(before, units, Style.DASHED, brief=brief)), right=False, **limits),
        draw(now, list(_flags(after, units, Style.FULL, brief=brief)), right=True, **limits),
        _missing_name(body, before, after, full_bump_stayed=full_bump_stayed),
    ]
    return svg.document(svg.WIDTH_PX, body.bottom + FOOT_PX + 24, "".join(parts), title, palette)


def _half(body: Ruler, travel_mm: float, *, right: bool, full_bump_stayed: bool) -> Ruler:
    """Give the half of the ruler that one side has, at the height of its own topped-out end."""
    top = body.bottom - travel_mm * body.px_per_mm if full_bump_stayed else body.top
    left = body.middle if right else body.left
    return replace(body, travel_mm=travel_mm, shown_mm=travel_mm, left=left, width=body.width / 2, top=top)


def _flags(places: Places, units: Units, style: Style, *, brief: bool) -> Iterator[Flag]:
    def text(mm: float) -> str:
        return length_number(mm, units, 0)

    if places.rider_sag is not None:
        yield Flag(at_mm=places.rider_sag.value, lines=(f"sag {text(places.rider_sag.value)}",), style=style)
    rides = text(places.mean_mm)
    if places.doubt_mm is not None:
        rides += f" ± {text(_shown_doubt(places.doubt_mm, units))}"
    for name, at_mm, said in (
        ("rides at", places.mean_mm, rides),
        *(() if brief else (("5% past", places.p95_mm, text(places.p95_mm)),)),
        ("deepest", places.travel_used_mm, text(places.travel_used_mm)),
    ):
        yield Flag(at_mm=at_mm, lines=(name, said), style=style)


def _shown_doubt(doubt_mm: float, units: Units) -> float:
    """A doubt is never written as nothing: whole millimetres, or tenths of an inch, one at the least."""
    return max(doubt_mm, MM_PER_INCH / 10 if units is Units.IN else 1.0)


def _marks(half: Ruler, places: Places, *, dashed: bool, brief: bool) -> str:
    sag = places.rider_sag
    with_doubt = [] if sag is None else [(sag.value, sag.expanded_uncertainty)]
    with_doubt.append((places.mean_mm, places.doubt_mm or 0.0))
    parts = [mark(half, at, doubt_mm=doubt or None, dashed=dashed) for at, doubt in with_doubt]
    deep = (places.travel_used_mm,) if brief else (places.p95_mm, places.travel_used_mm)
    parts += [mark(half, at, dashed=dashed) for at in deep]
    return "".join(parts)


def _bracket(now: Ruler, after: Places) -> str:
    """Draw where rider sag should be, where there is a sag to hold against it."""
    return "" if after.rider_sag is None or after.target_mm is None else bracket(now, *after.target_mm)


def _ticks_mm(half: Ruler) -> str:
    small, middle, large, unit_mm = (5, 10, 50, 1.0) if half.units is Units.MM else (1, 2, 8, MM_PER_INCH / 4)
    parts = []
    for step in range(small, int(half.travel_mm / unit_mm) + 1, small):
        size, thick = (14, 1.6) if step % large == 0 else (10, 1.0) if step % middle == 0 else (6, 1.0)
        y = half.y(step * unit_mm)
        parts.append(svg.line(half.left, y, half.left + size, y, half.palette.ink, thick))
    return "".join(parts)


def _ticks_percent(half: Ruler) -> str:
    parts = []
    for percent in range(10, 100, 10):
        size, thick = (14, 1.6) if percent % 20 == 0 else (8, 1.0)
        y = half.y(half.travel_mm * percent / 100)
        parts.append(svg.line(half.right - size, y, half.right, y, half.palette.ink, thick))
    return "".join(parts)


def _missing(body: Ruler, half: Ruler) -> str:
    """Hatch the travel that this half has not, above its topped-out end or below its full bump."""
    parts = []
    for top, low, edge in ((body.top, half.top, half.top), (half.bottom, body.bottom, half.bottom)):
        if low - top < 0.5:
            continue
        ink = body.palette.ink
        parts += [
            svg.rect(half.left, top, half.width, low - top, fill=body.palette.card),
            svg.hatch(half.left, top, half.width, low - top, ink, step=7),
            svg.line(half.left, edge, half.right, edge, ink, 3),
        ]
    return "".join(parts)


def _missing_name(body: Ruler, before: Places, after: Places, *, full_bump_stayed: bool) -> str:
    if before.travel_mm == after.travel_mm:
        return ""
    side, shorter = ("before", before) if before.travel_mm < after.travel_mm else ("after", after)
    if full_bump_stayed:
        gone = length_number(body.travel_mm - shorter.travel_mm, body.units, 0)
        text = f"hatched: {side} tops out {gone} further in"
    else:
        text = f"hatched: {side} ends at {length_number(shorter.travel_mm, body.units, 0)}"
    return svg.label(body.middle, body.bottom + 48, text, body.palette.ink2, anchor="middle")
