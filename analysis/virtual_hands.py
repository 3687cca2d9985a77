"""Whoever lifts the virtual bike, pushes it and sits on it: the loads of a sag check, drawn at random.

No two hands are alike: the speed of each move, how long a reading is held, how hard it is pushed, how the
rider sits down each time, sways and shifts, and how much friction each settling meets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.phases import FROM_ABOVE, FROM_BELOW, RIDER, TOPPED_OUT, UNLADEN
from analysis.virtual_parts import GRAVITY_M_S2, VirtualBike
from ingest.records import End

Floats = npt.NDArray[np.float64]

STEP_S = 0.02
SWAY_S = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing done and read. What is not as it should be is said by the last three.

    ``lifted`` is the share of the bike's weight taken off where a wheel should hang, ``aboard`` the share of
    the rider's weight that is on the bike; ``creep_n`` is how much load still comes on while it is read.
    """

    phase: str
    side: str | None = None
    end: End | None = None
    lifted: float = 1.0
    aboard: float = 1.0
    creep_n: float = 0.0

    @property
    def text(self) -> str:
        """What a mark says to it."""
        return ", ".join(str(part) for part in (self.phase, self.end, self.side) if part)


LOADED = tuple(Step(phase=name, side=side) for name in (UNLADEN, RIDER) for side in (FROM_ABOVE, FROM_BELOW))


def usual_steps(repeats: int, *, together: bool, in_rounds: bool) -> tuple[Step, ...]:
    """Put the procedure in order: all of it again and again, or each load read ``repeats`` times over.

    ``together``: both wheels hang at once, or one after the other.
    """
    tops = (Step(phase=TOPPED_OUT),) if together else tuple(Step(phase=TOPPED_OUT, end=end) for end in End)
    if in_rounds:
        return (*tops, *LOADED) * repeats
    return (*tops, *LOADED[:2] * repeats, *LOADED[2:] * repeats)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Handling:
    """Loads of front and rear, (steps, 2) in N; what friction is multiplied with; where each step was read.

    ``spans`` are ``(start s, end s, step)``.
    """

    load_n: Floats
    friction_factor: Floats
    spans: tuple[tuple[float, float, Step], ...]


class Hands:
    """Takes one step after the other; ``sway_n`` is how much the rider's weight moves about while read."""

    def __init__(
        self, bike: VirtualBike, rider_kg: float, sway_n: float, random: np.random.Generator
    ) -> None:
        self._random, self._sway_n = random, sway_n
        self._rider_weight_n = rider_kg * GRAVITY_M_S2
        self._bike_n = np.array(bike.body_weights_n(0.0))
        self._rider_n = np.array(bike.body_weights_n(rider_kg)) - self._bike_n
        self._hang_n = -0.95 * GRAVITY_M_S2 * np.array([end.unsprung_mass_kg for end in bike.ends])
        self._last, self._factor, self._seat_n = self._bike_n, np.ones(2), np.zeros(2)
        self._rider_up = False
        self._loads: list[Floats] = []
        self._factors: list[Floats] = []
        self._spans: list[tuple[float, float, Step]] = []
        self._write(np.tile(self._bike_n, (50, 1)))

    def take(self, step: Step) -> None:
        """Do one step and hold it."""
        self._factor = self._random.uniform(0.88, 1.12, 2)
        if step.phase == TOPPED_OUT:
            up = np.array([step.end in (None, end) for end in End])
            lifted = self._bike_n + step.lifted * (self._hang_n - self._bike_n)
            self._move(np.where(up, lifted, self._bike_n))
            self._hold(step)
            return
        rest = self._rest(step)
        if step.side == FROM_BELOW:
            self._move(rest + self._random.uniform(350, 600))
        else:
            # Somebody lifts it by most of its weight, unless it hangs already.
            self._move(np.where(self._last < 0, self._last, self._random.uniform(0.15, 0.3) * rest))
        self._move(rest)
        self._hold(step)

    def handling(self) -> Handling:
        """Give all that was done so far."""
        return Handling(
            load_n=np.concatenate(self._loads),
            friction_factor=np.concatenate(self._factors),
            spans=tuple(self._spans),
        )

    def _rest(self, step: Step) -> Floats:
        """Give the load of a reading; each time the rider sits down, a little further forward or back."""
        aboard = step.phase == RIDER
        if aboard and not self._rider_up:
            moved_n = self._random.uniform(-0.01, 0.01) * self._rider_weight_n
            self._seat_n = np.array([moved_n, -moved_n])
        self._rider_up = aboard
        return np.asarray(self._bike_n + (step.aboard * self._rider_n + self._seat_n if aboard else 0.0))

    def _move(self, target: Floats) -> None:
        steps = round(self._random.uniform(1.6, 3.5) / STEP_S)
        done = 0.5 - 0.5 * np.cos(np.pi * np.linspace(0.0, 1.0, steps))[:, None]
        self._write(self._last + done * (target - self._last))
        self._last = target

    def _hold(self, step: Step) -> None:
        steps = round(self._random.uniform(2.6, 5.5) / STEP_S)
        held = self._last + step.creep_n * np.linspace(0.0, 1.0, steps)[:, None]
        if step.phase == RIDER:
            held = held + self._sway(steps)
        before_s = self._now_s
        self._write(held)
        self._spans.append((before_s, self._now_s, step))

    def _sway(self, steps: int) -> Floats:
        """Slow swaying, and in three readings of ten one shift of weight that stays."""
        keep = float(np.exp(-STEP_S / SWAY_S))
        sway = np.zeros((steps, 2))
        pushes = self._random.normal(0.0, np.sqrt(1 - keep**2), (steps, 2))
        for k in range(1, steps):
            sway[k] = keep * sway[k - 1] + pushes[k]
        if self._random.random() < 0.3:
            moved = self._random.normal(0.0, 0.5)
            sway[int(self._random.integers(steps)) :] += (moved, -moved)
        return self._sway_n * sway

    def _write(self, loads: Floats) -> None:
        self._loads.append(loads)
        self._factors.append(np.tile(self._factor, (loads.shape[0], 1)))

    @property
    def _now_s(self) -> float:
        return STEP_S * float(sum(part.shape[0] for part in self._loads))
