"""How much more load an end carries with the rider aboard, and how well that is known.

Three ways, the best known one first: scales under the wheels, a known load, or the rider's mass shared
between the wheels by a share that is only roughly known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.gum import rectangular
from ingest.records import Bike, End, Rider

SCALE_HALF_KG = 1.0
"""A scale under a wheel, the bike held upright by hand: within ± this (judgement)."""
RIDER_MASS_KG = 1.0
"""Standard uncertainty of a rider's mass in gear (judgement: boots on or off, tank bag)."""
USUAL_FRONT_PERCENT, USUAL_DOUBT_PERCENT = 35.0, 10.0
"""Share of a sitting rider's weight on the front wheel, and its half width. Common practice, no source."""
GIVEN_DOUBT_PERCENT = 5.0
"""Half width of a share that somebody gave without saying how well it is known (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadChange:
    """A vertical change of load at one end, kg, with its standard uncertainty and where it is from.

    ``weighed`` says whether scales or a known load stand behind it.
    """

    kg: float
    u_kg: float
    basis: str
    weighed: bool
    dof: float = math.inf


def known_load(kg: float, half_kg: float) -> LoadChange:
    """Take a load put straight over one axle, known to ± ``half_kg``."""
    return LoadChange(
        kg=kg,
        u_kg=rectangular(half_kg),
        basis=f"known load of {kg:g} kg, ± {half_kg:g} kg",
        weighed=True,
    )


def load_change(bike: Bike, end: End, rider: Rider | None) -> LoadChange | None:
    """Give the change of load between unladen and rider at one end; ``None`` without a rider's mass.

    Parameters
    ----------
    bike : Bike
        With ``axle_load_kg`` at this end where the bike alone was weighed.
    end : End
    rider : Rider or None
        With the axle loads aboard, or with mass and, where known, share on the front wheel.
    """
    if rider is None:
        return None
    suspension = bike.suspension(end)
    alone = None if suspension is None else suspension.axle_load_kg
    aboard = rider.front_axle_load_kg if end is End.FRONT else rider.rear_axle_load_kg
    if alone is not None and aboard is not None:
        return LoadChange(
            kg=aboard - alone,
            u_kg=math.sqrt(2.0) * rectangular(SCALE_HALF_KG),
            basis=f"scales under the {end} wheel: {alone:g} kg alone, {aboard:g} kg with the rider",
            weighed=True,
        )
    return None if rider.mass_kg is None else _shared(rider, rider.mass_kg, end)


def _shared(rider: Rider, mass_kg: float, end: End) -> LoadChange:
    given = rider.front_share_percent
    front = USUAL_FRONT_PERCENT if given is None else given
    doubt = rider.front_share_doubt_percent
    if doubt is None:
        doubt = USUAL_DOUBT_PERCENT if given is None else GIVEN_DOUBT_PERCENT
    share = (front if end is End.FRONT else 100.0 - front) / 100.0
    u_kg = math.hypot(share * RIDER_MASS_KG, mass_kg * rectangular(doubt / 100.0))
    origin = "as usual (common practice, no source)" if given is None else "as given"
    return LoadChange(
        kg=share * mass_kg,
        u_kg=u_kg,
        basis=f"rider {mass_kg:g} kg, {100 * share:.0f} ± {doubt:g} % of it on the {end} wheel {origin}",
        weighed=False,
    )
