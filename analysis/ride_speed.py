"""Ride speed from the road itself: the rear wheel meets what the front wheel met, wheelbase / speed later.

The ride is cut into pieces of six seconds. In each, the wheel speeds of both ends between 4 and 40 Hz are
laid over each other with every delay that a speed of 2 to 45 m/s would make; where they agree best is the
delay. Below 4 Hz the body couples both ends and nothing comes later. Two things keep one event from speaking
for the whole piece: blows harder than twice the usual are cut to that, and every frequency has the same say,
so that a wheel ringing on its tyre does not drown the rest (generalised cross-correlation: C. H. Knapp and
G. C. Carter, IEEE Trans. Acoust. Speech Signal Process. 24, 1976, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Floats
from analysis.gum import coverage_factor
from analysis.motion import EndMotion, MotionSegment
from analysis.pieces import bridged, piece_means
from analysis.results import Quantity
from analysis.ride_results import RideSpeed
from ingest.records import Bike

PIECE_S = 6.0
MOST_PIECES = 120
"""Spread evenly over a long ride: twelve minutes of it say how fast it was, and cost little."""

LEAST_KNOWN = 0.8
"""Share of a piece that must not be masked; the rest is bridged."""

RATE_HZ = 200.0
LEAST_RATE_HZ = 100.0
BAND_HZ = (4.0, 40.0)
SLOWEST_M_S, FASTEST_M_S = 2.0, 45.0

CLIP = 2.0
SMOOTHED_HZ = 2.0
FINER = 4

AGREEMENT = 0.35
"""Least agreement; 1 means that the rear does exactly what the front did. On the virtual bike, wheels on two
different roads of one class came to 0.30 at most in 1600 pieces, those on the same road to 0.6 and more in 95
of 100."""

AT_ONCE = 16
"""Pieces worked on at a time: more of them would not fit the processor's cache."""

LEAST_PIECES = 5
LEAST_SHARE = 0.1

DELAY_DOUBT_S = 0.002
"""Standard uncertainty. The ends answer the same bump with different springs, dampers and wheels: on virtual
bikes with dampers from 0.6 to 1.6 times and wheels from 0.7 to 1.3 times the usual the delay was off by 2 ms
RMS, 5 ms at most."""

WHEELBASE_DOUBT = 0.005
"""Standard uncertainty, as a share: the fork shortens the wheelbase as it goes in (judgement)."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pace:
    """Ride speed of the pieces that gave one, shape (k,), in order of time.

    ``t_s`` is the middle of the piece, from the first sample of the log; ``pieces_tried`` counts all that
    were looked at.
    """

    t_s: Floats
    speed_m_s: Floats
    pieces_tried: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Pieces:
    """Travel of one end in the pieces looked at in one gap-free stretch, shape (k, n), masks left open.

    ``start_s`` is the time of the first sample of each piece.
    """

    start_s: Floats
    step_s: float
    travel_mm: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EndPieces:
    """What ride speed needs of one end: short pieces of its travel, stretch by stretch."""

    stretches: tuple[_Pieces, ...]
    longest_interval_s: float


def end_pieces(motion: EndMotion) -> EndPieces:
    """Cut pieces out of the gap-free stretches of one end, `MOST_PIECES` spread over the ride at most."""
    fits = [part.travel_mm.size // _rows(part) for part in motion.segments]
    chosen = np.arange(sum(fits))
    if chosen.size > MOST_PIECES:
        chosen = np.linspace(0, chosen.size - 1, MOST_PIECES).round().astype(int)
    borders = np.cumsum([0, *fits])
    return EndPieces(
        stretches=tuple(
            _cut(part, chosen[(chosen >= first) & (chosen < stop)] - first)
            for part, first, stop in zip(motion.segments, borders[:-1], borders[1:], strict=True)
            if stop > first
        ),
        longest_interval_s=max((part.dt_s for part in motion.segments), default=0.0),
    )


def ride_speed(bike: Bike, front: EndPieces | None, rear: EndPieces | None) -> RideSpeed | None:
    """Give the middle of the ride's speed over ground with its doubt, or say why it is unknown.

    Parameters
    ----------
    bike : Bike
        As it was on this ride; its wheelbase is what the delay is measured against.
    front, rear : EndPieces or None
        Both of the same log, from `end_pieces`.

    Returns
    -------
    RideSpeed or None
        ``None`` where neither end was measured. The doubt counts the scatter of the pieces, the different
        ways in which the ends answer a bump, and the wheelbase.
    """
    if front is None and rear is None:
        return None
    reason = _no_answer(bike, front, rear)
    if reason is not None:
        return _unknown(0, 0, reason)
    found = pace(bike, front, rear)
    pieces = found.speed_m_s.size
    if found.pieces_tried < LEAST_PIECES:
        return _unknown(
            pieces,
            found.pieces_tried,
            f"it takes {LEAST_PIECES} times {PIECE_S:.0f} s without a gap at both ends, and there are "
            f"{found.pieces_tried}",
        )
    if pieces < max(LEAST_PIECES, LEAST_SHARE * found.pieces_tried):
        return _unknown(
            pieces,
            found.pieces_tried,
            f"in only {pieces} of {found.pieces_tried} pieces of {PIECE_S:.0f} s did the rear wheel clearly "
            "repeat what the front wheel did: the road too smooth, or the bike standing",
        )
    slowest, middle, fastest = np.quantile(found.speed_m_s, [0.05, 0.5, 0.95]).tolist()
    return RideSpeed(
        speed_m_s=_with_doubt(middle, found.speed_m_s, (bike.wheelbase_mm or 0.0) / 1e3),
        slowest_m_s=slowest,
        fastest_m_s=fastest,
        pieces=pieces,
        pieces_tried=found.pieces_tried,
        unknown_because=None,
    )


def pace(bike: Bike, front: EndPieces | None, rear: EndPieces | None) -> Pace:
    """Give the ride speed piece by piece; empty where there is nothing to have it from."""
    if front is None or rear is None or bike.wheelbase_mm is None:
        return Pace(t_s=np.empty(0), speed_m_s=np.empty(0), pieces_tried=0)
    wheelbase_m = bike.wheelbase_mm / 1e3
    middles, delays = [np.empty(0)], [np.empty(0)]
    for ahead, behind in zip(front.stretches, rear.stretches, strict=True):
        travel = np.stack([ahead.travel_mm, behind.travel_mm], axis=1)
        kept = np.flatnonzero(np.isfinite(travel).mean(axis=2).min(axis=1) >= LEAST_KNOWN)
        middles.append(ahead.start_s[kept] + travel.shape[2] / 2 * ahead.step_s)
        late_s = float(behind.start_s[0] - ahead.start_s[0]) if kept.size else 0.0
        for first in range(0, kept.size, AT_ONCE):
            some = travel[kept[first : first + AT_ONCE]]
            if np.isnan(some).any():
                some = np.apply_along_axis(bridged, 2, some)
            delays.append(_delays_s(some, ahead.step_s, late_s, wheelbase_m))
    middle_s, delay_s = np.concatenate(middles), np.concatenate(delays)
    known = np.isfinite(delay_s)
    return Pace(t_s=middle_s[known], speed_m_s=wheelbase_m / delay_s[known], pieces_tried=int(delay_s.size))


def _no_answer(bike: Bike, front: EndPieces | None, rear: EndPieces | None) -> str | None:
    if front is None or rear is None:
        return "it takes both ends, and only one was measured"
    if bike.wheelbase_mm is None:
        return "the bike file has no wheelbase_mm"
    slowest = front.longest_interval_s
    if slowest * LEAST_RATE_HZ > 1.0 + 1e-6:
        return f"{1 / slowest:.0f} samples a second are too few: it takes {LEAST_RATE_HZ:.0f}"
    return None


def _unknown(pieces: int, tried: int, reason: str) -> RideSpeed:
    return RideSpeed(
        speed_m_s=None,
        slowest_m_s=None,
        fastest_m_s=None,
        pieces=pieces,
        pieces_tried=tried,
        unknown_because=reason,
    )


def _with_doubt(middle: float, speeds: Floats, wheelbase_m: float) -> Quantity:
    """Doubt of a median from the scatter about it, and of every delay and the wheelbase alike."""
    scatter = 1.4826 * float(np.median(np.abs(speeds - middle)))
    of_median = 1.2533 * scatter / math.sqrt(speeds.size)
    common = middle * math.hypot(DELAY_DOUBT_S * middle / wheelbase_m, WHEELBASE_DOUBT)
    expanded = math.hypot(coverage_factor(speeds.size - 1) * of_median, coverage_factor(math.inf) * common)
    return Quantity(
        value=middle,
        expanded_uncertainty=expanded,
        coverage_factor=expanded / math.hypot(of_median, common),
    )


def _cut(part: MotionSegment, chosen: npt.NDArray[np.intp]) -> _Pieces:
    """Cut these pieces out of a stretch, thinned by means."""
    thin, rows = _thin(part), _rows(part)
    whole = part.travel_mm[: part.travel_mm.size // rows * rows].reshape(-1, rows)
    return _Pieces(
        start_s=np.asarray(part.start_s + chosen * rows * part.dt_s, dtype=float),
        step_s=thin * part.dt_s,
        travel_mm=piece_means(whole[chosen].ravel(), thin).reshape(chosen.size, rows // thin),
    )


def _thin(part: MotionSegment) -> int:
    return max(1, round(1.0 / (RATE_HZ * part.dt_s)))


def _rows(part: MotionSegment) -> int:
    return _thin(part) * round(PIECE_S / (_thin(part) * part.dt_s))


def _delays_s(travel_mm: Floats, step_s: float, late_s: float, wheelbase_m: float) -> Floats:
    """Give by how much the rear is later than the front in each piece; NaN where no delay stands out.

    Parameters
    ----------
    travel_mm : ndarray, shape (k, 2, n)
        Front and rear of each piece, every ``step_s``; the rear was read ``late_s`` after the front.
    """
    size = 2 ** math.ceil(math.log2(travel_mm.shape[2] + wheelbase_m / SLOWEST_M_S / step_s))
    spectra = _even_spectra(travel_mm, step_s, size)
    front, rear = spectra[:, 0], spectra[:, 1]
    own = np.sqrt(np.sum(np.abs(front) ** 2, axis=1) * np.sum(np.abs(rear) ** 2, axis=1))
    # More points of the inverse transform than there were samples lay the agreement on a finer grid.
    agreement = np.fft.irfft(front.conj() * rear, FINER * size, axis=1) * (FINER * size / 2)
    fine_s = step_s / FINER
    shortest, longest = ((wheelbase_m / speed - late_s) / fine_s for speed in (FASTEST_M_S, SLOWEST_M_S))
    low, high = max(1, math.floor(shortest)), math.ceil(longest)
    best = low + np.argmax(agreement[:, low : high + 1], axis=1)
    before, here, after = (agreement[np.arange(best.size), best + side] for side in (-1, 0, 1))
    stands_out = (own > 0.0) & (here >= AGREEMENT * own) & (best > low) & (best < high)
    with np.errstate(divide="ignore", invalid="ignore"):
        beside = 0.5 * (before - after) / (before - 2 * here + after)  # top of the parabola through the three
    return np.asarray(np.where(stands_out, (best + beside) * fine_s + late_s, np.nan))


def _even_spectra(travel_mm: Floats, step_s: float, size: int) -> npt.NDArray[np.complex128]:
    """Spectra of the wheel speeds in the band, hard blows cut, all frequencies of one weight, (k, 2, m)."""
    samples = travel_mm.shape[2]
    hertz = np.fft.rfftfreq(size, step_s)
    band = (hertz >= BAND_HZ[0]) & (hertz <= BAND_HZ[1])
    swing = (travel_mm - travel_mm.mean(axis=2, keepdims=True)) * np.hanning(samples)
    speed = np.fft.irfft(np.fft.rfft(swing, size) * (hertz * band), size)[:, :, :samples]
    usual = np.median(np.abs(speed), axis=2, keepdims=True) * 1.4826
    spectra = np.fft.rfft(np.clip(speed, -CLIP * usual, CLIP * usual), size) * band
    width = 2 * round(SMOOTHED_HZ / hertz[1] / 2) + 1
    squares = spectra.real**2 + spectra.imag**2
    power = np.apply_along_axis(np.convolve, 2, squares, np.full(width, 1 / width), "same")
    even = np.zeros_like(spectra)
    np.divide(spectra, np.sqrt(power), out=even, where=band & (power > 0.0))
    return even
