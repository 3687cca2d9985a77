"""The bike from the side, to scale, before dashed and after solid: from its own numbers, nothing traced.

Where the drawing is wide its dimensions stand beside what they measure; on a phone they stand in rows below.
"""

from __future__ import annotations

from analysis.rigid_bike import Place
from analysis.side_geometry import SideView
from dashboard.drawings import svg
from dashboard.drawings.side_dimensions import (
    BELLY_HALF_MM,
    EDGE_PX,
    SEAT_HALF_MM,
    Sheet,
    belly_dimension,
    below_ground,
    boards,
    labels_fit,
    rake_label,
    rows_of,
    seat_dimension,
)
from dashboard.theme import Palette
from dashboard.units import Units

WIDE_PX = 720.0
LEGEND_PX, GROUND_PX, ROW_PX = 34.0, 66.0, 24.0
TYRE_SHARE = 0.21  # height of the tyre ring, of the radius
CLAMP_MM = 45.0
HEAD_MM = 60.0  # room above the highest part
DASH = "7 5"


def side_view(
    before: SideView,
    after: SideView | None,
    units: Units,
    palette: Palette,
    *,
    title: str,
    px_wide: float,
    boards_mm: float | None = None,
) -> str:
    """Draw one bike before and after the work, standing on the same ground, rear wheel on rear wheel.

    Without ``after`` the bike is drawn once, solid. ``boards_mm`` is the stack under the rider's feet.
    """
    states = [before] if after is None else [before, after]
    behind = max(one.rear_radius_mm for one in states)
    long = behind + max(one.wheelbase_mm + one.front_radius_mm for one in states)
    tall = max(max(place[1] for place in (one.tube_top_mm, one.seat_mm or (0, 0))) for one in states)
    scale = (px_wide - 2 * EDGE_PX) / long
    sheet = Sheet(
        px_per_mm=scale,
        left=EDGE_PX + behind * scale,
        ground=LEGEND_PX + (tall + HEAD_MM) * scale,
        palette=palette,
        units=units,
    )
    now = after or before
    beside = px_wide >= WIDE_PX and labels_fit(sheet, before, after, px_wide)
    parts = [
        _legend(sheet, both=after is not None),
        _body(sheet, now),
        _ground(sheet, px_wide),
        boards(sheet, before, after, boards_mm, named=beside),
        *(
            _wheels(sheet, before)
            if after is None
            else _wheels(sheet, now) + _wheels(sheet, before, dashed=True)
        ),
        "" if after is None else _frame(sheet, before, dashed=True),
        _frame(sheet, now),
    ]
    rows = rows_of(sheet, before, after, boards_mm)
    if beside:
        parts += [
            seat_dimension(sheet, before, after),
            belly_dimension(sheet, before, after),
            below_ground(sheet, before, after, px_wide),
            rake_label(sheet, before, after),
        ]
        height = sheet.ground + GROUND_PX
    else:
        parts += [
            svg.label(EDGE_PX, sheet.ground + 32 + k * ROW_PX, text, palette.ink, bold=k == 0)
            for k, text in enumerate(rows)
        ]
        height = sheet.ground + 32 + len(rows) * ROW_PX
    return svg.document(px_wide, height, "".join(parts), title, palette)


def _legend(sheet: Sheet, *, both: bool) -> str:
    ink = sheet.palette.ink
    parts = [svg.label(EDGE_PX, 16, "to scale", sheet.palette.ink2)]
    if both:
        x = EDGE_PX + svg.text_width_px("to scale") + 16
        for name, dash in (("before", DASH), ("after", "")):
            parts.append(svg.line(x, 16, x + 32, 16, ink, 2 if dash else 4, dash=dash))
            parts.append(svg.label(x + 40, 16, name, ink))
            x += 40 + svg.text_width_px(name) + 18
    return "".join(parts)


def _ground(sheet: Sheet, px_wide: float) -> str:
    left, width, ink = EDGE_PX / 2, px_wide - EDGE_PX, sheet.palette.ink
    return svg.line(left, sheet.ground, left + width, sheet.ground, ink, 2.5) + svg.hatch(
        left, sheet.ground + 2, width, 7, ink
    )


def _wheels(sheet: Sheet, one: SideView, *, dashed: bool = False) -> list[str]:
    """Draw both tyre rings; the earlier state only by its outline."""
    parts = []
    ink, ring = sheet.palette.ink, sheet.palette.hair
    for axle, radius in ((one.rear_axle_mm, one.rear_radius_mm), (one.front_axle_mm, one.front_radius_mm)):
        x, y = sheet.at(axle)
        if dashed:
            parts.append(
                svg.circle(x, y, sheet.px(radius), stroke=sheet.palette.ink2, stroke_width=1.6, dash=DASH)
            )
            continue
        parts.append(svg.circle(x, y, sheet.px(radius), fill=ring, stroke=ink, stroke_width=2.0))
        inner = sheet.px(radius * (1 - TYRE_SHARE))
        parts.append(svg.circle(x, y, inner, fill=sheet.palette.card, stroke=ink))
        parts.append(svg.circle(x, y, 4.5, fill=ink))
    return parts


def _frame(sheet: Sheet, one: SideView, *, dashed: bool = False) -> str:
    """Draw swingarm, fork with its clamps, steering axis, seat and belly."""
    colour = sheet.palette.ink2 if dashed else sheet.palette.ink
    dash = DASH if dashed else ""

    def thick(px: float) -> float:
        return 1.6 if dashed else px

    def run(start: Place, end: Place, width: float) -> str:
        return svg.line(*sheet.at(start), *sheet.at(end), colour, thick(width), dash=dash)

    parts = [
        run(one.axis_top_mm, one.axis_foot_mm, 1.2),
        run(one.front_axle_mm, one.tube_top_mm, 5.5),
    ]
    if not dashed:
        parts += [_clamp(sheet, one, clamp) for clamp in one.clamps_mm]
    if one.pivot_mm is not None:
        parts.append(run(one.rear_axle_mm, one.pivot_mm, 5.0))
        if not dashed:
            x, y = sheet.at(one.pivot_mm)
            parts.append(svg.circle(x, y, 5.5, fill=sheet.palette.card, stroke=colour, stroke_width=2.0))
    for place, half in ((one.seat_mm, SEAT_HALF_MM), (one.belly_mm, BELLY_HALF_MM)):
        if place is not None:
            x, y = place
            parts.append(run((x - half, y), (x + half, y), 6.0 if place is one.seat_mm else 4.0))
    if one.seat_mm is not None and not dashed:
        x, y = sheet.at(one.seat_mm)
        parts.append(svg.shape([(x - 6, y - 13), (x + 6, y - 13), (x, y - 3)], fill=colour))
    return "".join(parts)


def _clamp(sheet: Sheet, one: SideView, clamp: Place) -> str:
    """Draw a clamp: a short bar across the fork."""
    (x1, y1), (x2, y2) = sheet.at(one.axis_top_mm), sheet.at(one.axis_foot_mm)
    long = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    across = ((y2 - y1) / long, -(x2 - x1) / long)
    half = sheet.px(CLAMP_MM)
    x, y = sheet.at(clamp)
    return svg.line(
        x - half * across[0],
        y - half * across[1],
        x + half * across[0],
        y + half * across[1],
        sheet.palette.ink,
        5.0,
    )


def _body(sheet: Sheet, one: SideView) -> str:
    """Join seat, head, belly and pivot by a pale shape; it measures nothing."""
    upper, lower = one.clamps_mm[1], one.clamps_mm[0]
    corners = [upper, lower]
    if one.belly_mm is not None:
        x, y = one.belly_mm
        corners += [(x + BELLY_HALF_MM, y), (x - BELLY_HALF_MM, y)]
    if one.pivot_mm is not None:
        corners.append(one.pivot_mm)
    if one.seat_mm is not None:
        x, y = one.seat_mm
        corners += [(x - SEAT_HALF_MM, y), (x + SEAT_HALF_MM, y)]
    if len(corners) < 3:
        return ""
    return svg.shape(
        [sheet.at(corner) for corner in corners],
        fill=sheet.palette.steel,
        stroke=sheet.palette.hair,
        stroke_width=1.0,
    )
