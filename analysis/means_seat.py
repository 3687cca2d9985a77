"""Lowering that leaves the suspension alone: seat foam, and tyres of a smaller radius. For completeness."""

from __future__ import annotations

from analysis.means import EndNow, Fitted

MOST_FOAM_MM = 25.0
"""More foam than this is rarely there to take. Common practice, no source."""

MOST_TYRE_MM = 15.0
"""Tyres for one rim rarely differ by more in radius. Common practice, no source."""


def seat_reasons(drop_mm: float) -> tuple[str, ...]:
    """Say whether the seat has so much to give."""
    if drop_mm <= MOST_FOAM_MM:
        return ()
    return (
        f"seat: {drop_mm:.0f} mm is more than a seat usually has to give, {MOST_FOAM_MM:g} mm (common "
        "practice, no source)",
    )


def tyre_reasons(radius_mm: float) -> tuple[str, ...]:
    """Say whether there can be tyres that are so much smaller."""
    if radius_mm <= MOST_TYRE_MM:
        return ()
    return (
        f"tyres: {radius_mm:.0f} mm less radius is more than tyres of one rim differ by, {MOST_TYRE_MM:g} mm "
        "(common practice, no source)",
    )


def smaller_tyre(now: EndNow, radius_mm: float) -> Fitted:
    """Fit a tyre of a radius smaller by so much; the axle stays where it is in the bike."""
    return Fitted(
        means=f"tyre of {radius_mm:.0f} mm less radius",
        suspension=now.suspension,
        amount_mm=radius_mm,
        sag_mm=now.goal_mm,
        radius_mm=-radius_mm,
        notes=(f"{now.end}: size, load and speed rating have to be allowed for this bike",),
    )
