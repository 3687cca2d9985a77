"""Chance inside one ride: the stationary bootstrap, on a ride cut into short pieces.

Successive samples of a ride resemble each other, so a thousand a second are not a thousand facts a second.
The stationary bootstrap (D. N. Politis and J. P. Romano, J. Am. Stat. Assoc. 89, 1994, 1303-1313) draws whole
stretches of random length; how long they should be on average comes from the ride itself (D. N. Politis and
H. White, Econometric Reviews 23, 2004, 53-70, corrected by A. Patton, D. N. Politis and H. White, 28, 2009,
372-375). Both are the `arch` package's.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

LEAST_STRETCHES = 10

SLOW_WAVES = 6
"""Few, so that only what is slower than a tenth of a one-minute ride's length or so is looked at."""

PIECES_A_WAVE = 40
MOST_WAVES = 30
"""A longer ride holds more slow waves: one more for every forty pieces, until more of them add nothing."""


def mean_block_length(series: Floats) -> int:
    """Give the mean stretch to draw, in pieces: the longest that any column asks for.

    Parameters
    ----------
    series : ndarray, shape (n,) or (n, k)
        One row a piece, in order of time. Columns that never change are left out.

    Returns
    -------
    int
        From 1 to a tenth of the pieces: fewer than ten stretches would say nothing about their spread.
    """
    from arch.bootstrap import optimal_block_length  # slow to import, and only comparisons need it

    columns = np.asarray(series, dtype=float).reshape(len(series), -1)
    columns = columns[:, np.ptp(columns, axis=0) > 0]
    longest = len(series) // LEAST_STRETCHES
    if columns.shape[1] == 0 or longest < 1:
        return 1
    wanted = float(optimal_block_length(columns)["stationary"].max())
    return int(np.clip(np.ceil(wanted), 1, longest))


def block_weights(pieces: int, mean_block: int, replicates: int, seed: int) -> Floats:
    """Draw resampled rides: how often each piece occurs in each of them, shape (replicates, pieces).

    Any statistic that is a sum over pieces is then one matrix product.
    """
    from arch.bootstrap import StationaryBootstrap

    random = np.random.default_rng(seed)
    draw = StationaryBootstrap(mean_block, np.arange(pieces), seed=random)
    chosen = np.concatenate([draw.update_indices() + row * pieces for row in range(replicates)])
    counts = np.bincount(chosen, minlength=replicates * pieces)
    return np.asarray(counts.reshape(replicates, pieces), dtype=np.float64)


def slow_waves(pieces: int) -> int:
    """Give how many slow waves a ride of so many pieces is looked at with.

    >>> slow_waves(240), slow_waves(1200), slow_waves(14_400)
    (6, 30, 30)
    """
    return int(np.clip(pieces // PIECES_A_WAVE, SLOW_WAVES, MOST_WAVES))


def slow_standard_error(series: Floats, waves: int = SLOW_WAVES) -> float | None:
    """Give the standard error of a mean as the slowest swings of the series have it.

    Resampled stretches are a tenth of the ride at most, so what swings more slowly than that, as a rider who
    moves about or a road that rises, escapes them. The projections on the first cosines of the ride's length
    are what a mean is made of as well; their mean square is its variance, with as many degrees of freedom
    (equal-weighted cosine estimator: U. K. Müller, J. Econometrics 141, 2007, 1331-1352; E. Lazarus, D. J.
    Lewis, J. H. Stock and M. W. Watson, J. Bus. Econ. Stat. 36, 2018, 541-559; both from memory).

    Parameters
    ----------
    series : ndarray, shape (n,)
        One value a piece, in order of time.
    waves : int
        How many cosines.

    Returns
    -------
    float or None
        In the unit of the series, with as many degrees of freedom as waves; ``None`` for a series too short.
    """
    n = series.size
    if n < 4 * waves:
        return None
    place = (np.arange(n) + 0.5) / n
    cosines = np.cos(np.pi * np.outer(np.arange(1, waves + 1), place))
    return float(np.sqrt(2 * np.mean((cosines @ series) ** 2)) / n)
