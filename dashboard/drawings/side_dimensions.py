"""The dimensions of the side view: what a height, angle or length was and is, beside what it measures."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.rigid_bike import Place
from analysis.side_geometry import SideView
from dashboard import units as show
from dashboard.drawings import svg
from dashboard.theme import Palette
from dashboard.units import Units

EDGE_PX = 18.0
SEAT_HALF_MM, BELLY_HALF_MM, BOARD_MM = 190.0, 190.0, 180.0
BELLY_ARROW = 0.6  # where its arrow stands, of the half length of the belly line
SEAT_GAP_PX, RAKE_GAP_PX = 44.0, 24.0
ARROW = "→"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Where millimetres lie in the drawing."""

    px_per_mm: float
    left: float
    ground: float
    palette: Palette
    units: Units

    def at(self, place: Place) -> Place:
        """Give where a place of the bike is in the drawing, px."""
        return (self.left + place[0] * self.px_per_mm, self.ground - place[1] * self.px_per_mm)

    def px(self, mm: float) -> float:
        """Give a length in the drawing, px."""
        return mm * self.px_per_mm


def boards(
    sheet: Sheet, before: SideView, after: SideView | None, boards_mm: float | None, *, named: bool
) -> str:
    """Draw the stack under the rider's feet as three boards, clear of the belly's figure."""
    if not boards_mm or boards_mm <= 0:
        return ""
    now = after or before
    text = f"boards {show.length_number(boards_mm, sheet.units, 0)}"
    width, height, ink = sheet.px(BOARD_MM), sheet.px(boards_mm), sheet.palette.ink
    needs = max(width, svg.text_width_px(text)) if named else width
    middle = sheet.at(now.seat_mm or (0.35 * now.wheelbase_mm, 0.0))[0]
    if now.belly_mm is not None and before.belly_mm is not None:
        arrow = sheet.at((now.belly_mm[0] + BELLY_ARROW * BELLY_HALF_MM, 0.0))[0] - 9
        figure = svg.text_width_px(
            _belly_text(sheet, before.belly_mm, None if after is None else now.belly_mm), bold=True
        )
        middle = min(middle, arrow - (figure if named else 0.0) - 12 - needs / 2)
    x, y = middle - width / 2, sheet.ground - height
    parts = [svg.rect(x, y, width, height, fill=sheet.palette.card, stroke=ink)]
    parts += [svg.line(x, y + height * k / 3, x + width, y + height * k / 3, ink, 1.0) for k in (1, 2)]
    if named:
        parts.append(svg.label(middle, y - 12, text, ink, anchor="middle"))
    return "".join(parts)


def seat_dimension(sheet: Sheet, before: SideView, after: SideView | None) -> str:
    """Write how high the seat is left of it, with arrows between the two heights."""
    now = after or before
    if now.seat_mm is None or before.seat_mm is None:
        return ""
    ink = sheet.palette.ink
    x = sheet.at((now.seat_mm[0] - SEAT_HALF_MM, 0.0))[0]
    was_y, y = sheet.at(before.seat_mm)[1], sheet.at(now.seat_mm)[1]
    lower, heights = _seat_texts(sheet, before.seat_mm, None if after is None else now.seat_mm)
    parts = [svg.label(x - SEAT_GAP_PX, y + (11 if lower else 0), heights, ink, anchor="end")]
    if lower:
        parts.append(svg.label(x - SEAT_GAP_PX, y - 11, lower, ink, bold=True, anchor="end"))
        top, low = sorted((was_y, y))
        parts += [svg.line(x - 36, at, x - 2, at, ink, 1.0) for at in (top, low)]
        parts += [_arrow(x - 26, top - 16, top, ink), _arrow(x - 26, low + 16, low, ink)]
    return "".join(parts)


def belly_dimension(sheet: Sheet, before: SideView, after: SideView | None) -> str:
    """Write the height of the belly under it."""
    now = after or before
    if now.belly_mm is None or before.belly_mm is None:
        return ""
    ink = sheet.palette.ink
    x, y = sheet.at((now.belly_mm[0] + BELLY_ARROW * BELLY_HALF_MM, now.belly_mm[1]))
    middle = (y + sheet.ground) / 2
    text = _belly_text(sheet, before.belly_mm, None if after is None else now.belly_mm)
    return (
        _arrow(x, middle, y + 3, ink)
        + _arrow(x, middle, sheet.ground - 2, ink)
        + svg.label(x - 9, middle, text, ink, bold=True, anchor="end")
    )


def below_ground(sheet: Sheet, before: SideView, after: SideView | None, px_wide: float) -> str:
    """Write trail, with its bar, and wheelbase under the ground."""
    now = after or before
    ink = sheet.palette.ink
    contact, foot = sheet.at((now.front_axle_mm[0], 0.0))[0], sheet.at(now.axis_foot_mm)[0]
    bar = sheet.ground + 17
    trail = f"trail {_pair(sheet, before.trail_mm, None if after is None else now.trail_mm)}"
    half = svg.text_width_px(trail, bold=True) / 2
    middle = min((contact + foot) / 2, px_wide - EDGE_PX / 2 - half)
    wheelbase = f"wheelbase {_pair(sheet, before.wheelbase_mm, None if after is None else now.wheelbase_mm)}"
    return (
        svg.line(contact, bar, foot, bar, ink, 2.0)
        + "".join(svg.line(x, bar - 6, x, bar + 6, ink, 2.0) for x in (contact, foot))
        + svg.label(middle, bar + 25, trail, ink, bold=True, anchor="middle")
        + svg.label((EDGE_PX + middle - half) / 2, bar + 25, wheelbase, ink, anchor="middle")
    )


def rake_label(sheet: Sheet, before: SideView, after: SideView | None) -> str:
    """Write the rake beside the top of the fork."""
    now = after or before
    x, y = sheet.at(now.tube_top_mm)
    return svg.label(x + RAKE_GAP_PX, y + 6, _rake_text(before, after), sheet.palette.ink, bold=True)


def labels_fit(sheet: Sheet, before: SideView, after: SideView | None, px_wide: float) -> bool:
    """Tell whether what is written beside the seat and the fork stays inside the drawing."""
    now = after or before
    rake = svg.text_width_px(_rake_text(before, after), bold=True)
    if sheet.at(now.tube_top_mm)[0] + RAKE_GAP_PX + rake > px_wide:
        return False
    if now.seat_mm is None or before.seat_mm is None:
        return True
    texts = _seat_texts(sheet, before.seat_mm, None if after is None else now.seat_mm)
    longest = max(svg.text_width_px(text, bold=True) for text in texts)
    return sheet.at((now.seat_mm[0] - SEAT_HALF_MM, 0.0))[0] - SEAT_GAP_PX - longest > 0.0


def rows_of(
    sheet: Sheet, before: SideView, after: SideView | None, boards_mm: float | None
) -> tuple[str, ...]:
    """Write the dimensions one below the other."""
    now = after or before
    both = after is not None
    rows = []
    for name, was, then in (("seat", before.seat_mm, now.seat_mm), ("belly", before.belly_mm, now.belly_mm)):
        if was is not None and then is not None:
            rows.append(f"{name} {_pair(sheet, was[1], then[1] if both else None)} {sheet.units}")
    rows.append(f"rake {_angles(before.rake_deg, now.rake_deg if both else None)}")
    rows.append(f"trail {_pair(sheet, before.trail_mm, now.trail_mm if both else None)} {sheet.units}")
    wheelbase = _pair(sheet, before.wheelbase_mm, now.wheelbase_mm if both else None)
    rows.append(f"wheelbase {wheelbase} {sheet.units}")
    if boards_mm:
        rows.append(f"boards {show.length_number(boards_mm, sheet.units, 0)} {sheet.units}")
    return tuple(rows)


def _seat_texts(sheet: Sheet, was: Place, now: Place | None) -> tuple[str, str]:
    """Write how much lower the seat is (nothing where it stands once), and how high."""
    heights = f"seat {_pair(sheet, was[1], None if now is None else now[1])}"
    if now is None:
        return "", heights
    drop = was[1] - now[1]
    way = "lower" if drop >= 0 else "higher"
    return f"seat {show.length_number(abs(drop), sheet.units, 0)} {way}", heights


def _rake_text(before: SideView, after: SideView | None) -> str:
    return f"rake {_angles(before.rake_deg, None if after is None else after.rake_deg)}"


def _belly_text(sheet: Sheet, was: Place, now: Place | None) -> str:
    return _pair(sheet, was[1], None if now is None else now[1])


def _pair(sheet: Sheet, was_mm: float, now_mm: float | None) -> str:
    was = show.length_number(was_mm, sheet.units, 0)
    return was if now_mm is None else f"{was} {ARROW} {show.length_number(now_mm, sheet.units, 0)}"


def _angles(was_deg: float, now_deg: float | None) -> str:
    was = f"{show.number(was_deg)}°"
    return was if now_deg is None else f"{was} {ARROW} {show.number(now_deg)}°"


def _arrow(x: float, start: float, tip: float, colour: str) -> str:
    """Draw an upright arrow, its tip at ``tip``."""
    back = 6.0 if start > tip else -6.0
    return svg.line(x, start, x, tip, colour, 1.6) + svg.shape(
        [(x - 4, tip + back), (x, tip), (x + 4, tip + back)], stroke=colour, closed=False
    )
