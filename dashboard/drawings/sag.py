"""Sag of one end on its ruler: what was read with its doubt, friction, and where it should be."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.results import EndSag
from dashboard.drawings import svg
from dashboard.drawings.flags import Flag, Style, draw
from dashboard.drawings.ruler import (
    FOOT_PX,
    HEAD_PX,
    Ruler,
    bracket,
    friction_bar,
    graduation,
    mark,
    outline,
    plate,
)
from dashboard.theme import Palette
from dashboard.units import Units, length_number, quantity
from ingest.records import End

LEFT, WIDTH = 92.0, 76.0
CARD_PX = 360.0  # height of the torn ruler
LIVE_PX = 420.0  # height of the longer of the two whole rulers


def sag_card(
    end: End, sag: EndSag, units: Units, palette: Palette, *, title: str, height_px: float = CARD_PX
) -> str:
    """Draw the sag card of one end: the upper part of the ruler, torn near 40 % and enlarged."""
    shown = min(sag.travel_mm, max(0.42 * sag.travel_mm, *(1.12 * at for at in _extent(sag))))
    ruler = Ruler(
        end=end,
        travel_mm=sag.travel_mm,
        shown_mm=shown,
        left=LEFT,
        width=WIDTH,
        top=HEAD_PX,
        px_per_mm=height_px / shown,
        units=units,
        palette=palette,
    )
    flags, drawn = [], []
    for name, q, style in (
        ("unladen", sag.unladen_sag_mm, Style.HOLLOW),
        ("rider", sag.rider_sag_mm, Style.FULL),
    ):
        if q is not None:
            flags.append(Flag(at_mm=q.value, lines=(name, quantity(q, units)), style=style))
            drawn.append(mark(ruler, q.value, doubt_mm=q.expanded_uncertainty))
    if sag.target_sag_mm is not None:
        low, high = sag.target_sag_mm
        span = f"{length_number(low, units, 0)}–{length_number(high, units, 0)}"
        flags.append(Flag(at_mm=(low + high) / 2, lines=("target", span), style=Style.BARE))
        drawn.append(bracket(ruler, low, high))
    settled = sag.rider_sag_mm or sag.unladen_sag_mm
    if settled is not None and sag.friction_band_mm is not None:
        drawn.append(friction_bar(ruler, settled.value, sag.friction_band_mm))
    if settled is None:
        flags.append(Flag(at_mm=0, lines=("no reading", "yet"), style=Style.DASHED))
    return _finish(ruler, drawn, flags, title)


def _extent(sag: EndSag) -> list[float]:
    """List how far down the card has to reach, mm."""
    reach = [
        q.value + q.expanded_uncertainty for q in (sag.unladen_sag_mm, sag.rider_sag_mm) if q is not None
    ]
    return [0.0, *reach, *(sag.target_sag_mm or ())]


def live_ruler(
    end: End,
    travel_mm: float,
    now_mm: float | None,
    recent_mm: Sequence[float],
    units: Units,
    palette: Palette,
    *,
    px_per_mm: float,
    title: str,
) -> str:
    """Draw the whole ruler with the wheel's place now; the bar at the left is where it was lately."""
    ruler = Ruler(
        end=end,
        travel_mm=travel_mm,
        shown_mm=travel_mm,
        left=LEFT,
        width=WIDTH,
        top=HEAD_PX,
        px_per_mm=px_per_mm,
        units=units,
        palette=palette,
    )
    drawn, flags = [], []
    if recent_mm:
        top = ruler.y(min(recent_mm))
        low = max(ruler.y(max(recent_mm)), top + 5)
        drawn.append(svg.rect(LEFT - 24, top, 5, low - top, fill=palette.ink, radius=2))
    if now_mm is None:
        flags.append(Flag(at_mm=0, lines=("no reading", "yet"), style=Style.DASHED))
    else:
        flags.append(Flag(at_mm=now_mm, lines=(f"now {length_number(now_mm, units, 1)}",)))
        drawn.append(mark(ruler, now_mm))
    return _finish(ruler, drawn, flags, title)


def _finish(ruler: Ruler, drawn: list[str], flags: list[Flag], title: str) -> str:
    marks = [flag.at_mm for flag in flags if flag.style is not Style.BARE]
    body = "".join(
        [
            plate(ruler.end, ruler.middle, 6, ruler.palette),
            outline(ruler),
            graduation(ruler, marks),
            *drawn,
            draw(ruler, flags, right=True, low=ruler.top - 30, high=ruler.bottom + FOOT_PX),
        ]
    )
    return svg.document(svg.WIDTH_PX, ruler.bottom + FOOT_PX, body, title, ruler.palette)
