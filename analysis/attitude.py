"""How the bike sits while it is ridden: front against rear, pitch, and the rake and trail that follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.calibration import Floats
from analysis.common_times import means_at_times_of
from analysis.dives import BothEnds, dives_and_squats
from analysis.geometry import plane_bike
from analysis.gum import coverage_factor
from analysis.motion import EndMotion, MotionSegment
from analysis.moved_wheel import MEASURE_BOTH_ROOMS, Moved
from analysis.pieces import piece_means
from analysis.resampling import SLOW_WAVES, slow_standard_error
from analysis.ride_results import Attitude
from analysis.rigid_bike import PlaneBike, stand
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Bike

RATE_HZ = 50.0
"""Samples a second the ride is thinned to by means: a body on its springs moves at 1 to 3 Hz."""

PIECE_SAMPLES = 12
LEVEL_PERCENT = 3.0
"""Ride positions this close, in percent of their travel, are level (judgement)."""

TOPPED_OUT = "topped out"
NOT_SAID = "taken as topped out: the bike file does not say"
NOT_MOVED = Moved()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SlowStretch:
    """One gap-free stretch thinned by means: mean ``i`` is of a piece ``step_s`` long.

    ``start_s`` is the time of its first sample, ``first_s`` the middle of its first piece.
    """

    start_s: float
    first_s: float
    step_s: float
    mm: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SlowEnd:
    """What attitude needs of one end: its slow motion, full travel, mean position and count of samples."""

    travel_mm: float
    mean_mm: float
    samples: int
    stretches: tuple[SlowStretch, ...]


def slow_end(motion: EndMotion, like: SlowEnd | None = None) -> SlowEnd:
    """Thin one end to some 50 means a second, at the times of the other end ``like`` where that is given."""
    starts = [part.start_s for part in (motion.segments if like is None else like.stretches)]
    return SlowEnd(
        travel_mm=motion.travel_mm,
        mean_mm=motion.distribution.mean,
        samples=motion.distribution.total,
        stretches=tuple(_slow(start_s, part) for start_s, part in zip(starts, motion.segments, strict=True)),
    )


def _slow(start_s: float, part: MotionSegment) -> SlowStretch:
    per = max(1, round(1.0 / (RATE_HZ * part.dt_s)))
    return SlowStretch(
        start_s=start_s,
        first_s=start_s + (per - 1) / 2 * part.dt_s,
        step_s=per * part.dt_s,
        mm=means_at_times_of(start_s, part, per),
    )


def attitude(
    bike: Bike,
    front: SlowEnd | None,
    rear: SlowEnd | None,
    state_travel_mm: tuple[float, float] | None = None,
    moved: Moved = NOT_MOVED,
) -> Attitude | None:
    """Put both ends of one ride together.

    Parameters
    ----------
    bike : Bike
        As it was on this ride. Pitch, rake and trail need its wheelbase, rake, fork offset and both wheel
        radii, and the state they were measured in.
    front, rear : SlowEnd or None
        Both of the same log and at the same times, from `slow_end`.
    state_travel_mm : (float, float), optional
        Front and rear wheel travel in that state: the sag, where it was not topped out.
    moved : Moved, optional
        How far the setup moved the wheels up in the bike since its geometry was measured
        (`analysis.moved_wheel.moved_by_setup`).

    Returns
    -------
    Attitude or None
        ``None`` where one end was not measured. Pitch is the turn of the frame against the state its file
        was measured in, nose down positive (ISO 8855), on level ground and rigid tyres; its percentiles are
        those of the travels thinned to 50 a second. Where pitch is missing, ``measured_state`` says why.
    """
    if front is None or rear is None or not front.samples or not rear.samples:
        return None
    together = tuple(
        BothEnds(start_s=ahead.first_s, step_s=ahead.step_s, front_mm=ahead.mm, rear_mm=behind.mm)
        for ahead, behind in zip(front.stretches, rear.stretches, strict=True)
    )
    means = (front.mean_mm, rear.mean_mm)
    shares = (100.0 * means[0] / front.travel_mm, 100.0 * means[1] / rear.travel_mm)
    plane, measured_state = _measured(bike, state_travel_mm, moved)
    try:
        stands = None if plane is None else stand(plane, *means)
        low, high = (None, None) if plane is None else _pitch_range(plane, means, together)
    except UsageError as problem:
        stands, low, high, measured_state = None, None, None, f"{measured_state}; {problem}"
    dives, squats = dives_and_squats(together)
    return Attitude(
        front_percent=shares[0],
        rear_percent=shares[1],
        level_word=_level(shares[0] - shares[1], _doubt(front, rear, together)),
        pitch_deg=None if stands is None else stands.pitch_deg,
        pitch_p5_deg=low,
        pitch_p95_deg=high,
        rake_deg=None if stands is None else stands.rake_deg,
        trail_mm=None if stands is None else stands.trail_mm,
        measured_state=measured_state,
        dives=dives,
        squats=squats,
    )


def _measured(
    bike: Bike, state_travel_mm: tuple[float, float] | None, moved: Moved
) -> tuple[PlaneBike | None, str]:
    """Give the bike as it was measured, its travels in that state, and the state in words, or why not.

    A wheel that a part moved up in the bike is where more travel would have put it before.
    """
    state = bike.measured_state or NOT_SAID
    try:
        plane = plane_bike(bike)
    except CannotAnswer as missing:
        return None, str(missing)
    if bike.measured_state in (None, TOPPED_OUT):
        state_travel_mm = (0.0, 0.0)
    elif state_travel_mm is None:
        return None, f"{state}: the sag of that state is not known, so pitch, rake and trail are not either"
    if moved.front_mm is None or moved.rear_mm is None:
        return None, (
            f"{state}: how far this setup moved the {' and the '.join(moved.unknown)} wheel up in the bike "
            f"is not known, so pitch, rake and trail are not either; {MEASURE_BOTH_ROOMS}"
        )
    if moved != NOT_MOVED:
        state += f"; since then the setup moved the wheels up in the bike, {_both(moved)}"
    plane = replace(
        plane,
        front_travel_mm=state_travel_mm[0] - moved.front_mm,
        rear_travel_mm=state_travel_mm[1] - moved.rear_mm,
    )
    return plane, state


def _both(moved: Moved) -> str:
    """Write the two amounts as people say them.

    >>> _both(Moved(front_mm=25.0, rear_mm=0.0))
    'front by 25 mm, rear by 0 mm'
    """
    return f"front by {moved.front_mm:.0f} mm, rear by {moved.rear_mm:.0f} mm"


def _pitch_range(
    plane: PlaneBike, means: tuple[float, float], together: Sequence[BothEnds]
) -> tuple[float | None, float | None]:
    """Give the pitch that the ride was below for 5 % and for 95 % of the time.

    Pitch is all but linear in the two travels: that sorts the moments, and the two that matter are then
    worked out exactly.
    """
    front = np.concatenate([part.front_mm for part in together])
    rear = np.concatenate([part.rear_mm for part in together])
    known = np.isfinite(front) & np.isfinite(rear)
    front, rear = front[known], rear[known]
    if not front.size:
        return None, None
    per_front = (
        stand(plane, means[0] + 1, means[1]).pitch_deg - stand(plane, means[0] - 1, means[1]).pitch_deg
    )
    per_rear = stand(plane, means[0], means[1] + 1).pitch_deg - stand(plane, means[0], means[1] - 1).pitch_deg
    places = [round(share * (front.size - 1)) for share in (0.05, 0.95)]
    order = np.argpartition(per_front * front + per_rear * rear, places)
    low, high = (stand(plane, float(front[at]), float(rear[at])).pitch_deg for at in order[places])
    return low, high


def _doubt(front: SlowEnd, rear: SlowEnd, together: Sequence[BothEnds]) -> float | None:
    """Give the 95 % doubt of the difference of the ride positions within this ride, in percent of travel."""
    differences: list[Floats] = [
        piece_means(100.0 * (part.front_mm / front.travel_mm - part.rear_mm / rear.travel_mm), PIECE_SAMPLES)
        for part in together
    ]
    series = np.concatenate(differences)
    error = slow_standard_error(series[np.isfinite(series)])
    return None if error is None else coverage_factor(SLOW_WAVES) * error


def _level(front_less_rear: float, doubt: float | None) -> str:
    if doubt is None:
        return "cannot tell"
    if abs(front_less_rear) > max(LEVEL_PERCENT, doubt):
        return "front lower" if front_less_rear > 0 else "rear lower"
    return "level" if doubt <= LEVEL_PERCENT else "cannot tell"
