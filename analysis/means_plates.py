"""Lowering by linkage plates: the whole travel range moves up in the bike, the shock stays as it is.

Where the pivots were measured the effect is exact (`analysis.four_bar`); else the maker's stated drop is
taken, with its doubt, and the leverage of now.
"""

from __future__ import annotations

from dataclasses import replace

from analysis.four_bar import RearLinkage, position, whole_travel
from analysis.gum import rectangular
from analysis.link_plates import PlateEffect, plate_effect, plates_for_drop_mm
from analysis.means import EndNow, Fitted, room_notes, room_reasons, travel_reasons
from analysis.means_shock import wheel_at
from analysis.spring_statics import linkage
from ingest.chassis import LinkagePoints, Plates
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Leverage, Suspension

STATED_HALF_SHARE = 0.15
"""A maker's drop is stated for some place of the travel and some bike: within ± this share (judgement)."""
STATED_RATIO_U = 0.03
"""Other plates change the leverage; unmeasured, by about this share (judgement, standard uncertainty)."""
MEASURED_RATIO_U = 0.005
"""What is left of that where the pivots were measured to about 1 mm (judgement)."""
ROWS = 12


def stated_plates(now: EndNow, plates: Plates) -> Fitted:
    """Fit a set of plates from the bike file: measured by its length, or by its maker's drop."""
    suspension = now.suspension
    name = f"linkage plates {plates.name!r}"
    reasons = plates_reasons(now)
    if suspension is not None and not reasons and plates.longer_mm is not None and _measured(suspension):
        return _exact(now, plates.longer_mm, name)
    if plates.drop_mm is None:
        return Fitted(
            means=name, suspension=suspension, refused=reasons or (f"rear: {name} have no drop_mm",)
        )
    return _by_drop(now, plates.drop_mm, f"{name}, {plates.drop_mm:.0f} mm as stated", reasons)


def plates_for(now: EndNow, drop_mm: float) -> Fitted:
    """Look for plates that lower the rear by so much at ride position, of whatever make."""
    suspension, reasons = now.suspension, plates_reasons(now)
    if suspension is not None and not reasons and _measured(suspension):
        places = _places(suspension.linkage)
        try:
            longer = plates_for_drop_mm(
                places,
                drop_mm,
                extended_mm=position(places, 0.0).shock_mm,
                at_stroke_mm=_stroke_at_target(now),
            )
            return _exact(now, longer, "linkage plates")
        except CannotAnswer as problem:
            reasons = (f"rear: {problem}",)
    return _by_drop(now, drop_mm, f"linkage plates for {drop_mm:.0f} mm", reasons)


def plates_reasons(now: EndNow) -> tuple[str, ...]:
    """Say why a bike takes no plates."""
    if now.suspension is None:
        return ("rear: the bike file has no [rear]: add suspension and travel_mm",)
    if now.suspension.kind != "linkage":
        return (f"rear: it has no linkage ({now.suspension.kind}), so there are no plates to change",)
    return ()


def _by_drop(now: EndNow, drop_mm: float, name: str, reasons: tuple[str, ...]) -> Fitted:
    if reasons:
        return Fitted(means=name, suspension=now.suspension, refused=reasons)
    fitted = Fitted(
        means=name,
        suspension=now.suspension,
        amount_mm=drop_mm,
        topped_up_mm=drop_mm,
        topped_up_u_mm=rectangular(STATED_HALF_SHARE * abs(drop_mm)),
        sag_mm=now.goal_mm,
        ratio_u=STATED_RATIO_U,
        notes=(
            *room_notes(now, drop_mm),
            "rear: other plates change the leverage; measure it again (`flatfoot calibrate --leverage`), "
            "and sag",
        ),
    )
    return fitted.refuse(*room_reasons(now, drop_mm), *travel_reasons(now, fitted))


def _exact(now: EndNow, longer_mm: float, name: str) -> Fitted:
    """Fit plates of another length to a linkage whose pivots were measured.

    What the points say of the change is laid over the leverage of the file, which was measured on its own.
    """
    suspension = now.suspension
    assert suspension is not None
    places = _places(suspension.linkage)
    try:
        effect = plate_effect(
            places,
            longer_mm,
            extended_mm=position(places, 0.0).shock_mm,
            stroke_mm=stroke_mm(suspension),
            at_stroke_mm=_stroke_at_target(now),
        )
    except (CannotAnswer, UsageError) as problem:
        return Fitted(means=name, suspension=suspension, refused=(f"rear: {problem}",))
    moved = _with_effect(suspension, effect)
    share = now.share
    fitted = Fitted(
        means=f"{name}, {longer_mm:+.1f} mm hole to hole".replace("-", "−"),
        suspension=moved,
        amount_mm=longer_mm,
        topped_up_mm=effect.axle_up_topped_out_mm,
        topped_up_u_mm=effect.axle_up_mm.expanded_uncertainty / effect.axle_up_mm.coverage_factor,
        sag_mm=None if share is None else share * moved.travel_mm,
        ratio_u=MEASURED_RATIO_U,
    )
    up = fitted.full_bump_up_mm(now) or 0.0
    return replace(fitted, notes=(*room_notes(now, up), _leverage_note(effect))).refuse(
        *room_reasons(now, up), *travel_reasons(now, fitted)
    )


def measured_leverage(suspension: Suspension) -> Leverage | None:
    """Give the leverage that the measured pivots say, ``None`` where they were not measured."""
    if suspension.linkage is None or suspension.shock_stroke_mm is None:
        return None
    places = _places(suspension.linkage)
    try:
        return whole_travel(places, position(places, 0.0).shock_mm, suspension.shock_stroke_mm).leverage
    except (CannotAnswer, UsageError):
        return None


def stroke_mm(suspension: Suspension) -> float:
    """Give the stroke of the shock: as written, else that of the leverage over the travel."""
    if suspension.shock_stroke_mm is not None or suspension.leverage is None:
        return suspension.shock_stroke_mm or 0.0
    follows = linkage(suspension.leverage)
    return follows.stroke_at(suspension.travel_mm) - follows.stroke_at(0.0)


def _with_effect(suspension: Suspension, effect: PlateEffect) -> Suspension:
    """Change travel and leverage of the file by as much as the points say they change."""
    travel = suspension.travel_mm * effect.after.travel_mm / effect.before.travel_mm
    table = suspension.leverage.table if suspension.leverage is not None else None
    if suspension.leverage is None:
        return replace(suspension, travel_mm=travel, leverage=effect.after.leverage, linkage=None)
    before, after = linkage(effect.before.leverage), linkage(effect.after.leverage)
    first = linkage(suspension.leverage)
    strokes = [effect.after.stroke_mm * row / (ROWS - 1) for row in range(1, ROWS)]
    rows = [
        (wheel_at(first, stroke) * wheel_at(after, stroke) / wheel_at(before, stroke), stroke)
        for stroke in strokes
    ]
    changed = Leverage(table=((0.0, 0.0), *rows))
    if table is None:  # one ratio for the whole travel says nothing of how it changes
        changed = Leverage(
            ratio=(suspension.leverage.ratio or 1.0) * rows[-1][0] / wheel_at(first, strokes[-1])
        )
    return replace(suspension, travel_mm=travel, leverage=changed, linkage=None)


def _leverage_note(effect: PlateEffect) -> str:
    return (
        f"rear: leverage at ride position {effect.leverage_before:.2f} → {effect.leverage_after:.2f} "
        "(wheel mm per mm of the shock)"
    )


def _measured(suspension: Suspension) -> bool:
    return suspension.linkage is not None and stroke_mm(suspension) > 0.0


def _places(points: LinkagePoints | None) -> RearLinkage:
    assert points is not None
    return RearLinkage(
        swingarm_pivot_mm=(0.0, 0.0),
        axle_mm=points.rear_axle,
        rocker_pivot_mm=points.rocker_pivot,
        rocker_plate_mm=points.plate_at_rocker,
        rocker_shock_mm=points.shock_at_rocker,
        plate_end_mm=points.plate_at_other_end,
        shock_mount_mm=points.shock_at_frame,
        rocker_on_swingarm=points.rocker_on == "swingarm",
    )


def _stroke_at_target(now: EndNow) -> float:
    """Give the stroke at correct sag; with the wheel hanging where none is known."""
    suspension = now.suspension
    if suspension is None or suspension.leverage is None or now.goal_mm is None:
        return 0.0
    return linkage(suspension.leverage).stroke_at(now.goal_mm)
