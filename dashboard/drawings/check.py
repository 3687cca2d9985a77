"""The live ruler of the guided sag check: where the wheel is now, where it was read, where it should be."""

from __future__ import annotations

from dashboard.drawings import svg
from dashboard.drawings.flags import Flag, Style, draw
from dashboard.drawings.ruler import FOOT_PX, Ruler, bracket, graduation, mark, outline
from dashboard.guide import EndView
from dashboard.theme import Palette
from dashboard.units import Units, length_number

TOP = 30.0
WIDE_PX, NARROW_PX = 276.0, 152.0
WIDE_TRAVEL_PX, NARROW_TRAVEL_PX = 380.0, 170.0  # height of the longer of the two rulers


def check_ruler(
    view: EndView, units: Units, palette: Palette, *, longest_mm: float, narrow: bool, title: str
) -> str:
    """Draw one end; ``longest_mm`` is the longer of the two travels, so that both share one scale.

    Narrow, two of them stand side by side on a phone: a pointer instead of flags.
    """
    height = NARROW_TRAVEL_PX if narrow else WIDE_TRAVEL_PX
    ruler = Ruler(
        end=view.end,
        travel_mm=view.travel_mm,
        shown_mm=view.travel_mm,
        left=34.0 if narrow else 28.0,
        width=78.0 if narrow else 80.0,
        top=TOP,
        px_per_mm=height / longest_mm,
        units=units,
        palette=palette,
    )
    lines = [mm for mm in (view.now_mm, view.unladen_mm) if mm is not None]
    parts = [outline(ruler), graduation(ruler, lines, percents=not narrow, apart_px=17), _recent(ruler, view)]
    if view.target_mm is not None:
        parts.append(bracket(ruler, *view.target_mm))
    if view.unladen_mm is not None:
        parts.append(mark(ruler, view.unladen_mm, dashed=narrow))
    if view.now_mm is not None:
        parts.append(mark(ruler, view.now_mm))
    parts.append(_pointer(ruler, view.now_mm) if narrow else _flags(ruler, view))
    width = NARROW_PX if narrow else WIDE_PX
    return svg.document(width, TOP + height + FOOT_PX, "".join(parts), title, palette)


def _recent(ruler: Ruler, view: EndView) -> str:
    if view.recent_mm is None:
        return ""
    low, high = view.recent_mm
    top = min(max(ruler.y(low), ruler.top), ruler.bottom - 5)
    bottom = max(min(ruler.y(high), ruler.bottom), top + 5)
    return svg.rect(ruler.left - 21, top, 5, bottom - top, fill=ruler.palette.ink, radius=2)


def _pointer(ruler: Ruler, now_mm: float | None) -> str:
    if now_mm is None:
        return ""
    y, x = min(max(ruler.y(now_mm), ruler.top), ruler.bottom), ruler.right + 24
    return svg.shape([(x, y), (x + 14, y - 9), (x + 14, y + 9)], fill=ruler.hue)


def _flags(ruler: Ruler, view: EndView) -> str:
    flags = []
    if view.now_mm is None:
        flags.append(Flag(at_mm=0, lines=("no reading", "yet"), style=Style.DASHED))
    else:
        flags.append(Flag(at_mm=view.now_mm, lines=(f"now {length_number(view.now_mm, ruler.units)}",)))
    if view.unladen_mm is not None:
        said = f"unladen {length_number(view.unladen_mm, ruler.units, 0)}"
        flags.append(Flag(at_mm=view.unladen_mm, lines=(said,), style=Style.HOLLOW))
    if view.target_mm is not None:
        low, high = view.target_mm
        span = f"{length_number(low, ruler.units, 0)}–{length_number(high, ruler.units, 0)} {ruler.units}"
        flags.append(Flag(at_mm=(low + high) / 2, lines=("target", span), style=Style.BARE))
    return draw(ruler, flags, right=True, low=0, high=ruler.bottom + FOOT_PX)
