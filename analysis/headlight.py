"""Where the headlight's beam goes once the bike stands differently: pitch turns it, the drop lowers it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.rigid_bike import Place, Standing

BEAM_DISTANCE_MM = 10_000.0
"""Headlights are set against a wall 10 m ahead. Common practice, no source; local rules may differ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamChange:
    """The beam on a wall ahead of the lamp, the same load aboard before and after.

    ``lower_mm`` is how much lower it meets the wall (negative: higher); of that ``by_pitch_mm`` comes from
    the turn of the bike and the rest from the lamp itself sitting lower.
    """

    lower_mm: float
    by_pitch_mm: float


def beam_change(
    before: Standing,
    after: Standing,
    lamp_mm: Place,
    *,
    dip_percent: float = 1.0,
    distance_mm: float = BEAM_DISTANCE_MM,
) -> BeamChange:
    """Say how far the beam moves.

    Parameters
    ----------
    before, after : Standing
        The bike under the same load.
    lamp_mm : Place
        The middle of the lamp, in the state the bike was measured in.
    dip_percent : float
        How much the beam falls with distance before the work: 1 % is 10 cm in 10 m. Common practice, no
        source.
    distance_mm : float
        From lamp to wall.
    """
    turned = math.radians(after.pitch_deg - before.pitch_deg)
    dip = math.atan(dip_percent / 100.0)
    by_pitch = distance_mm * (math.tan(dip + turned) - math.tan(dip))
    by_height = before.height_mm(*lamp_mm) - after.height_mm(*lamp_mm)
    return BeamChange(lower_mm=by_pitch + by_height, by_pitch_mm=by_pitch)
