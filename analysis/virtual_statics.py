"""Where the virtual bike rests, worked out without its motion: springs, leverage and dry friction only.

A sag check is done gently, so the suspension goes from balance to balance: friction holds it where it is
until the load asks for more than friction can hold, and then lets it follow. That is the play operator of
plasticity (M. A. Krasnosel'skii and A. V. Pokrovskii, "Systems with Hysteresis", 1989, from memory), two
table look-ups and a minimum a step instead of a stiff simulation, so hundreds of checks cost seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter

from analysis.virtual_parts import GRAVITY_M_S2, VirtualEnd
from analysis.virtual_scene import Scene

Floats = npt.NDArray[np.float64]

# Beyond full travel lies the stop; topped out hangs on its own.
BEYOND_MM, GRID_MM = 12.0, 0.05
# The damper lets the suspension follow a gentle hand by about this much later, s.
LAG_S = 0.06
# Over which its speed is taken to change, s: chosen so that the full simulation rests in the same places.
SLOWING_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class DryFriction:
    """Friction along the travel at the wheel, N: ``force_n + load_share`` of what the suspension carries.

    ``uneven`` is how much more of it holds against going deeper than the mean of both ways, as a share; the
    way out has as much less. The truth of a sag is then not in the middle of from above and from below.
    """

    force_n: float
    load_share: float = 0.0
    uneven: float = 0.0


def resting_mm(
    end: VirtualEnd, load_n: Floats, friction: DryFriction, factor: Floats | float = 1.0
) -> Floats:
    """Follow one end from balance to balance.

    Parameters
    ----------
    end : VirtualEnd
        Its own ``friction_n`` is not used.
    load_n : array, shape (n,)
        Vertical load on the suspension, N, downward positive, step by step.
    friction : DryFriction
    factor : array of shape (n,) or float
        What friction is multiplied with at each step: no two settlings meet quite the same friction.

    Returns
    -------
    array, shape (n,)
        Wheel travel, mm, starting without friction from the first load.
    """
    along = load_n * np.cos(np.radians(end.axis_deg))
    travel, elastic = _elastic(end)
    deeper, out = (1 + friction.uneven) * factor, (1 - friction.uneven) * factor
    # Going deeper ends where spring and friction together carry the load; going out, where the spring
    # less friction does.
    at_least = (along - deeper * friction.force_n) / (1 + deeper * friction.load_share)
    at_most = (along + out * friction.force_n) / (1 - out * friction.load_share)
    now = float(np.interp(along[0], elastic, travel))
    places = []
    for low, high in zip(
        np.interp(at_least, elastic, travel).tolist(),
        np.interp(at_most, elastic, travel).tolist(),
        strict=True,
    ):
        now = min(max(now, low), high)
        places.append(now)
    return np.array(places)


def handled_mm(
    end: VirtualEnd, load_n: Floats, friction: DryFriction, dt_s: float, factor: Floats | float = 1.0
) -> Floats:
    """Follow one end as `resting_mm` does, with what the mass and the damper add to it; ``dt_s`` is a step.

    A bike let down is slowed before it rests, and that carries it a little further; the force for it is
    taken from the motion of the pass before. The damper makes the motion smooth and late.
    """
    mass_kg = np.maximum(load_n, 0.0) / GRAVITY_M_S2
    places = resting_mm(end, load_n, friction, factor)
    for _ in range(2):
        smooth = gaussian_filter1d(places, SLOWING_S / dt_s)
        speeding_m_s2 = np.gradient(np.gradient(smooth)) / dt_s**2 / 1e3
        places = resting_mm(end, load_n - mass_kg * speeding_m_s2, friction, factor)
    keep = float(np.exp(-dt_s / LAG_S))
    return np.asarray(lfilter([1 - keep], [1, -keep], places - places[0]) + places[0], dtype=float)


@lru_cache(maxsize=64)
def _elastic(end: VirtualEnd) -> tuple[Floats, Floats]:
    """Wheel travel from well topped out to past full bump, and the force the suspension has there, N."""
    travel = np.arange(-BEYOND_MM / 4, end.travel_mm + BEYOND_MM, GRID_MM)
    return travel, end.elastic_force_n(travel)


def handled_scene(
    scene: Scene, frictions: Sequence[DryFriction] | None = None, rate_hz: float = 50.0
) -> tuple[Floats, Floats]:
    """Follow both ends of a scene that stands on flat ground, as `analysis.virtual_sim.simulate` would.

    ``frictions`` are front and rear; without them each end has its own ``friction_n``, the same both ways.
    Gives the travel of front and rear, mm, ``rate_hz`` times a second.
    """
    at_s = np.arange(round(scene.duration_s * rate_hz)) / rate_hz
    known_s = [load.t_s for load in scene.loads]
    outside = (
        np.interp(at_s, known_s, [load.front_n for load in scene.loads]),
        np.interp(at_s, known_s, [load.rear_n for load in scene.loads]),
    )
    standing = scene.bike.body_weights_n(scene.rider_mass_kg if scene.aboard else 0.0)
    if frictions is None:
        frictions = [DryFriction(force_n=end.friction_n) for end in scene.bike.ends]
    front, rear = (
        handled_mm(end, weight + more, friction, 1 / rate_hz)
        for end, weight, more, friction in zip(scene.bike.ends, standing, outside, frictions, strict=True)
    )
    return front, rear
