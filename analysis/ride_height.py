"""Where the suspension lives on a ride, what is left from there, and whether it packs down or jacks up.

A suspension packs down where one bump follows the other before the wheel has come back out (rebound damping
too strong for the road): it lives deeper where the road is rough. It jacks up where it is held out instead
(compression damping too strong). Both are seen as a mean position that differs between the smoothest and the
roughest third of the ride.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.gum import coverage_factor
from analysis.motion import EndMotion
from analysis.pieces import piece_mean_squares, piece_means
from analysis.resampling import SLOW_WAVES, slow_standard_error
from analysis.results import Quantity
from analysis.ride_results import RideHeight

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

PIECE_S = 0.25
WINDOW_PIECES = 8
"""Two seconds: a few bumps, so that it is the road that is rough and not a single hit."""

STILL_MM = 1.0
"""Quarter-second means within this range for a whole window: the bike stands, or the road is like glass."""

AWAY_WINDOWS = 2
"""Windows left out on both sides of a standing one: braking to a stop and setting off move the height."""

LEAST_KNOWN = 0.5
"""Share of a window's quarter-seconds that must not be masked."""

LEAST_WINDOWS = 4 * SLOW_WAVES
LEAST_CONTRAST = 1.5
"""The rough third's wheel must be this much faster than the smooth third's: else all is one road."""

MATTERS_SHARE = 0.03
"""Share of the full travel (judgement). Rebound damping stronger than compression damping costs any bike
a few mm on a rough road; only more than this is called packing down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _RoughAgainstSmooth:
    smooth_mm: float
    rough_mm: float
    change_mm: Quantity
    contrast: float


def ride_height(motion: EndMotion, full_mm: float, rider_sag: Quantity | None) -> RideHeight:
    """Give the mean ride position with its doubt, and what follows from it.

    Parameters
    ----------
    motion : EndMotion
        One end of one ride, with one valid sample at least.
    full_mm : float
        Full travel: nominal, or where the stop was found.
    rider_sag : Quantity or None
        Static rider sag of the same setup, mm.

    Returns
    -------
    RideHeight
        The 95 % interval counts what the slowest swings of the ride do (`slow_standard_error`); ``None``
        for less than 6 s. Rough against smooth needs 48 s in motion and a road that changes.
    """
    pieces = _pieces(motion)
    known = pieces[:, 0][np.isfinite(pieces[:, 0])]
    mean_mm, deepest_mm = motion.distribution.mean, float(motion.distribution.values[-1])
    error = slow_standard_error(known)
    half = None if error is None else coverage_factor(SLOW_WAVES) * error
    rough = _rough_against_smooth(pieces)
    return RideHeight(
        mean_mm=mean_mm,
        interval_mm=None if half is None else (mean_mm - half, mean_mm + half),
        against_sag_mm=_against_sag(mean_mm, error, rider_sag),
        smooth_mm=None if rough is None else rough.smooth_mm,
        rough_mm=None if rough is None else rough.rough_mm,
        rough_change_mm=None if rough is None else rough.change_mm,
        rough_word=_word(rough, full_mm),
        left_mm=full_mm - mean_mm,
        left_at_deepest_mm=full_mm - deepest_mm,
    )


def _pieces(motion: EndMotion) -> Floats:
    """Mean travel and mean square speed of each quarter-second, shape (pieces, 2), in whole windows.

    The rest of a stretch that does not fill a window is padded with NaN, so no window reaches across a gap.
    """
    found = [np.empty((0, 2))]
    for part in motion.segments:
        per = max(1, round(PIECE_S / part.dt_s))
        both = np.column_stack(
            [piece_means(part.travel_mm, per), piece_mean_squares(part.speed_mm_s, per)],
        )
        missing = -len(both) % WINDOW_PIECES
        found += [both, np.full((missing, 2), np.nan)]
    return np.concatenate(found)


def _against_sag(mean_mm: float, error: float | None, rider_sag: Quantity | None) -> Quantity | None:
    if rider_sag is None or error is None:
        return None
    own = coverage_factor(SLOW_WAVES) * error
    expanded = math.hypot(own, rider_sag.expanded_uncertainty)
    standard = math.hypot(error, rider_sag.expanded_uncertainty / rider_sag.coverage_factor)
    return Quantity(
        value=mean_mm - rider_sag.value,
        expanded_uncertainty=expanded,
        coverage_factor=expanded / standard if standard > 0 else coverage_factor(math.inf),
    )


def _rough_against_smooth(pieces: Floats) -> _RoughAgainstSmooth | None:
    """Compare the thirds of the ride with the slowest and the fastest wheel, starts and stops left out."""
    if not pieces.size:
        return None
    windows = pieces.reshape(-1, WINDOW_PIECES, 2)
    known: Flags = np.asarray(np.isfinite(windows).all(axis=2))
    riding = (known.mean(axis=1) >= LEAST_KNOWN) & ~_near_standing(windows[:, :, 0])
    height, power = np.nanmean(np.where(known[:, :, None], windows, np.nan)[riding], axis=1).T
    if height.size < LEAST_WINDOWS:
        return None
    slow, fast = np.quantile(power, [1 / 3, 2 / 3])
    smooth, rough = power <= slow, power >= fast
    smooth_mm, rough_mm = float(height[smooth].mean()), float(height[rough].mean())
    # Each window's part in the difference: what it adds to it, less what was to be expected.
    parts = rough * (height - rough_mm) / rough.mean() - smooth * (height - smooth_mm) / smooth.mean()
    # Few waves show too little now and then; windows of two seconds are nearly independent of each other.
    error = max(slow_standard_error(parts) or 0.0, float(parts.std()) / math.sqrt(parts.size))
    factor = coverage_factor(SLOW_WAVES)
    return _RoughAgainstSmooth(
        smooth_mm=smooth_mm,
        rough_mm=rough_mm,
        change_mm=Quantity(
            value=rough_mm - smooth_mm,
            expanded_uncertainty=factor * error,
            coverage_factor=factor,
        ),
        contrast=math.sqrt(float(power[rough].mean() / power[smooth].mean())),
    )


def _near_standing(travel: Floats) -> Flags:
    """Tell which windows are standing or near one that is, shape (windows,)."""
    standing = np.fmax.reduce(travel, axis=1) - np.fmin.reduce(travel, axis=1) <= STILL_MM
    around = np.ones(2 * AWAY_WINDOWS + 1)
    return np.asarray(np.convolve(standing, around)[AWAY_WINDOWS:-AWAY_WINDOWS] > 0.5)


def _word(rough: _RoughAgainstSmooth | None, full_mm: float) -> str:
    if rough is None or rough.contrast < LEAST_CONTRAST:
        return "cannot tell"
    change, doubt = rough.change_mm.value, rough.change_mm.expanded_uncertainty
    if abs(change) > max(doubt, MATTERS_SHARE * full_mm):
        return "packs down" if change > 0 else "jacks up"
    return "holds its height" if doubt <= MATTERS_SHARE * full_mm else "cannot tell"
