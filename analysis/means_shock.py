"""Lowering by a shorter shock at the rear, or by a shorter strut of a single-shock A-arm front.

Shorter by what the wheel has to come up at full extension. With the stroke cut by as much, full bump stays
where it was; with the stroke left, everything moves up, full bump too.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import brentq

from analysis.means import EndNow, Fitted, room_notes, room_reasons, travel_reasons
from analysis.spring_statics import FORK, Linkage, linkage
from ingest.records import End, Leverage

ROWS = 12
MOST_SHARE = 0.98
"""A shock cannot take more than about this share of the travel away, however much is wanted."""
NO_LEVERAGE = (
    "{end}: how the wheel follows the shock was not measured: take a leverage survey "
    "(`flatfoot leverage --help`) and write leverage or ratio in [{end}]"
)


def shorter(now: EndNow, drop_mm: float, *, same_stroke: bool = False) -> Fitted:
    """Shorten the shock so that the wheel comes up by ``drop_mm`` along its travel at ride position.

    Sag stays at the same share of the travel.
    """
    suspension, share = now.suspension, now.share
    word = "strut" if now.end is End.FRONT else "shock"
    name = f"shorter {word}, {'same' if same_stroke else 'shorter'} stroke"
    reasons = _cannot(now)
    if reasons or suspension is None or suspension.leverage is None or share is None:
        return Fitted(means=name, suspension=suspension, opened=True, refused=reasons)
    follows, travel = linkage(suspension.leverage), suspension.travel_mm

    def then_mm(hang_mm: float) -> float:
        """Travel that is left with the wheel hanging so much further up."""
        if not same_stroke:
            return travel - hang_mm
        stroke = follows.stroke_at(travel) + follows.stroke_at(hang_mm) - follows.stroke_at(0.0)
        return wheel_at(follows, stroke) - hang_mm

    def short_of(hang_mm: float) -> float:
        return hang_mm + share * (then_mm(hang_mm) - travel) - drop_mm

    most = MOST_SHARE * travel
    hang = most
    if short_of(0.0) >= 0:
        hang = 0.0
    elif short_of(most) > 0:
        hang = float(brentq(short_of, 0.0, most))
    by_mm = follows.stroke_at(hang) - follows.stroke_at(0.0)
    left = then_mm(hang)
    stroke = suspension.shock_stroke_mm or follows.stroke_at(travel) - follows.stroke_at(0.0)
    fitted = Fitted(
        means=f"{word} {by_mm:.1f} mm shorter, {'the same' if same_stroke else 'and as much less'} stroke",
        suspension=replace(
            suspension,
            travel_mm=left,
            leverage=_from(suspension.leverage, follows, hang, left),
            shock_length_mm=None
            if suspension.shock_length_mm is None
            else suspension.shock_length_mm - by_mm,
            shock_stroke_mm=stroke if same_stroke else stroke - by_mm,
            spring_free_length_mm=None,
            spring_solid_length_mm=None,
        ),
        amount_mm=by_mm,
        topped_up_mm=hang,
        topped_up_u_mm=0.5,
        sag_mm=share * left,
        opened=True,
        notes=(
            f"{now.end}: {'full bump moves up too' if same_stroke else 'full bump stays where it is'}; "
            "have it built for the rider's weight, and state length and stroke in the order",
        ),
    )
    up = fitted.full_bump_up_mm(now) or 0.0
    return replace(fitted, notes=(*room_notes(now, up), *fitted.notes)).refuse(
        *travel_reasons(now, fitted), *room_reasons(now, up)
    )


def wheel_at(follows: Linkage, stroke_mm: float) -> float:
    """Give the wheel travel at a stroke; past the end of the table the end slope carries on."""
    inside = min(max(stroke_mm, float(follows.stroke_mm[0])), float(follows.stroke_mm[-1]))
    wheel = float(np.interp(inside, follows.stroke_mm, follows.wheel_mm))
    return wheel + (stroke_mm - inside) / follows.ratio_at(wheel)


def _cannot(now: EndNow) -> tuple[str, ...]:
    suspension = now.suspension
    if suspension is None:
        return (f"{now.end}: the bike file has no [{now.end}]: add suspension and travel_mm",)
    if suspension.kind == FORK:
        return ("front: it has a telescopic fork, not a single strut",)
    if suspension.leverage is None:
        return (NO_LEVERAGE.format(end=now.end),)
    if now.share is None:
        return (f"{now.end}: no target sag is known, so its length cannot be told",)
    return ()


def _from(leverage: Leverage, follows: Linkage, hang_mm: float, travel_mm: float) -> Leverage:
    """Count wheel and stroke from the new topped-out position."""
    if leverage.ratio is not None:
        return leverage
    start = follows.stroke_at(hang_mm)
    places = (travel_mm * row / (ROWS - 1) for row in range(ROWS))
    return Leverage(table=tuple((at, follows.stroke_at(hang_mm + at) - start) for at in places))
