"""Steering geometry before and after, as a table."""

from __future__ import annotations

from analysis.geometry import SteeringGeometry
from dashboard import units as show
from dashboard.safety import GEOMETRY_LIMITS
from dashboard.units import Units
from dashboard.wording import Table


def geometry_table(was: SteeringGeometry, now: SteeringGeometry, units: Units = Units.MM) -> Table:
    """Write the geometry as the bike stood and as it stands with its axles moved."""

    def row(name: str, before: float, after: float, *, angle: bool) -> tuple[str, ...]:
        if angle:
            texts = (show.number(before, 2), show.number(after, 2), show.number(after - before, 2, sign=True))
            return (name, *(f"{text}°" for text in texts))
        return (
            name,
            show.length(before, units),
            show.length(after, units),
            show.length(after - before, units, sign=True),
        )

    return Table(
        head=("", "as in the file", "moved", "change"),
        rows=(
            row("rake", was.rake_deg, now.rake_deg, angle=True),
            row("trail", was.trail_mm, now.trail_mm, angle=False),
            row("wheelbase", was.wheelbase_mm, now.wheelbase_mm, angle=False),
            ("nose", "", "", f"{show.number(abs(now.pitch_deg), 2)}° {_nose(now.pitch_deg)}".strip()),
        ),
    )


def _nose(pitch_deg: float) -> str:
    if abs(pitch_deg) < 0.005:
        return ""
    return "down" if pitch_deg > 0 else "up"


GEOMETRY_CAUTIONS = (GEOMETRY_LIMITS,)
