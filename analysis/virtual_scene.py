"""What happens to the virtual bike, and what is then known to be true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.road import Road
from analysis.virtual_parts import GRAVITY_M_S2, VirtualBike
from ingest.records import End

Floats = npt.NDArray[np.float64]

FLAT = Road()


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Vertical forces on the body at a time, downward positive, as felt over each axle, N."""

    t_s: float
    front_n: float
    rear_n: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One run: a bike, who is aboard, a road ridden at constant speed, and forces from outside.

    ``loads`` are joined by straight lines and hold their first and last value. Where ``aboard`` is false the
    rider's mass is not on the body (in the shop the rider's weight comes as a load). ``phases`` are
    ``(start s, end s, text)`` of the still spans, for scenes that have them.
    """

    bike: VirtualBike
    rider_mass_kg: float
    road: Road = FLAT
    speed_m_s: float = 0.0
    duration_s: float = 60.0
    loads: tuple[Load, ...] = ()
    aboard: bool = True
    phases: tuple[tuple[float, float, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueEvent:
    """One excursion, from the fine time grid: when and how far, and the speed on the way in (positive)."""

    t_s: float
    peak_mm: float
    entry_speed_mm_s: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EndTruth:
    """What is true of one end between the samples: from the simulator's own, finer time grid.

    ``above_95_percent`` are the excursions above 95 % of the travel, those less than 100 ms apart taken as
    one: a bottoming where the peak reaches 98 %. ``toppings`` come back to 1 mm or less after more than 5 mm.
    Speeds on the way in are those on passing 95 % or 5 mm. ``in_the_air_s`` are the spans (from s, to s) in
    which the tyre carries nothing, however short.
    """

    max_mm: float
    above_95_percent: tuple[TrueEvent, ...]
    toppings: tuple[TrueEvent, ...]
    hard_stop_s: float
    rubber_s: float
    max_compression_speed_mm_s: float
    max_rebound_speed_mm_s: float
    in_the_air_s: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Truth:
    """True motion of both wheels, shape (samples,): travel from topped out in mm, speed in mm/s.

    A stop gives a little under load, so travel can pass 0 and full travel by a fraction of a millimetre to a
    few millimetres. The sags are equilibria without friction, solved on their own and not simulated.
    """

    dt_s: float
    front_mm: Floats
    rear_mm: Floats
    front_speed_mm_s: Floats
    rear_speed_mm_s: Floats
    unladen_sag_mm: Mapping[End, float]
    rider_sag_mm: Mapping[End, float]
    phases: tuple[tuple[float, float, str], ...]
    ends: Mapping[End, EndTruth]

    @property
    def front_max_mm(self) -> float:
        """Deepest front travel on the fine grid."""
        return self.ends[End.FRONT].max_mm

    @property
    def rear_max_mm(self) -> float:
        """Deepest rear travel on the fine grid."""
        return self.ends[End.REAR].max_mm

    def travel_mm(self, end: End) -> Floats:
        """Travel of one end."""
        return self.front_mm if end is End.FRONT else self.rear_mm

    def speed_mm_s(self, end: End) -> Floats:
        """Speed of one end."""
        return self.front_speed_mm_s if end is End.FRONT else self.rear_speed_mm_s


# The shop's procedure: what the reading is called, whether the rider is aboard, and what is done before it.
SAG_STEPS = (
    ("topped out", False, "lift"),
    ("unladen, from above", False, "let down"),
    ("unladen, from below", False, "push"),
    ("rider, from above", True, "lift"),
    ("rider, from below", True, "push"),
)
STILL_S = 3.2
RAMP_S = 2.2
PUSH_N = 500.0


def sag_scene(
    bike: VirtualBike, rider_mass_kg: float, repeats: int = 1, fidget_n: float = 0.0, seed: int = 0
) -> Scene:
    """Play the shop's sag procedure, ``repeats`` times over.

    Lifted until both suspensions are topped out; let down gently; pushed down and let up gently; the rider
    aboard, lifted and let down; pushed and let up. Each reading is held still for about three seconds.
    ``fidget_n`` is how much the rider's weight shifts about while it is read, N (standard deviation).
    """
    hand = _Hand(bike, rider_mass_kg)
    for _ in range(repeats):
        for text, rider, action in SAG_STEPS:
            if action == "push":
                hand.move_to(rider, push_n=PUSH_N)
            elif action == "lift" and rider:
                hand.move_to(rider, lifted=True)
            hand.move_to(rider, lifted=text == "topped out")
            hand.hold(text)
    loads = tuple(hand.loads)
    if fidget_n > 0:
        loads = _fidget(loads, fidget_n, seed)
    return Scene(
        bike=bike,
        rider_mass_kg=rider_mass_kg,
        duration_s=hand.now_s,
        loads=loads,
        aboard=False,
        phases=tuple(hand.phases),
    )


class _Hand:
    """Whoever lifts and pushes: keeps the time, and writes down the forces and the still spans."""

    def __init__(self, bike: VirtualBike, rider_mass_kg: float) -> None:
        self._body_n = bike.body_weights_n(0.0)
        with_rider = bike.body_weights_n(rider_mass_kg)
        self._rider_n = (with_rider[0] - self._body_n[0], with_rider[1] - self._body_n[1])
        # Held by the body, the wheels hang; all but a twentieth of their own weight is off the ground.
        self._wheels_n = tuple(0.95 * GRAVITY_M_S2 * end.unsprung_mass_kg for end in bike.ends)
        self.now_s = 0.0
        self.loads = [Load(t_s=0.0, front_n=0.0, rear_n=0.0)]
        self.phases: list[tuple[float, float, str]] = []

    def move_to(self, rider: bool, *, lifted: bool = False, push_n: float = 0.0) -> None:
        """Change the forces so gently that nothing swings: half a wave of a cosine."""
        target = [
            -body - wheel if lifted else weight * rider + push_n
            for body, wheel, weight in zip(self._body_n, self._wheels_n, self._rider_n, strict=True)
        ]
        start = self.loads[-1]
        for share in np.linspace(0.0, 1.0, 25)[1:]:
            done = 0.5 - 0.5 * np.cos(np.pi * share)
            self.loads.append(
                Load(
                    t_s=self.now_s + float(share) * RAMP_S,
                    front_n=float(start.front_n + done * (target[0] - start.front_n)),
                    rear_n=float(start.rear_n + done * (target[1] - start.rear_n)),
                )
            )
        self.now_s += RAMP_S

    def hold(self, text: str) -> None:
        """Keep still; the first 0.2 s may still be settling and belong to no reading."""
        self.phases.append((self.now_s + 0.2, self.now_s + STILL_S, text))
        self.now_s += STILL_S
        self.loads.append(replace(self.loads[-1], t_s=self.now_s))


def _fidget(loads: tuple[Load, ...], fidget_n: float, seed: int) -> tuple[Load, ...]:
    """The same forces with a shifting of weight laid over them, ten times a second."""
    times = np.arange(0.0, loads[-1].t_s, 0.1)
    noise = np.random.default_rng(seed).normal(0.0, fidget_n, (times.size, 2))
    known = np.array([[load.t_s, load.front_n, load.rear_n] for load in loads])
    both = np.union1d(times, known[:, 0])
    front, rear = (
        np.interp(both, known[:, 0], known[:, k + 1]) + np.interp(both, times, noise[:, k]) for k in (0, 1)
    )
    return tuple(
        Load(t_s=float(t), front_n=float(f), rear_n=float(r))
        for t, f, r in zip(both, front, rear, strict=True)
    )
