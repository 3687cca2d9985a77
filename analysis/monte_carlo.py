"""Doubt by drawing lots, after JCGM 101: a check on the formula of the GUM where its assumptions are thin.

JCGM 101:2008, "Evaluation of measurement data – Supplement 1 to the GUM – Propagation of distributions using
a Monte Carlo method". Each cause gets the distribution its knowledge stands for (6.4): a rectangle where
only limits are known, a scaled Student's t where a scatter was seen, a normal curve where a standard
uncertainty was stated. The draws are added up, and the shortest interval that holds 95 in 100 is read off.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from analysis.gum import Contribution
from analysis.results import MonteCarlo

Floats = npt.NDArray[np.float64]

DRAWS = 100_000
SEED = 20_080_101
COVERED = 0.95


class Shape(StrEnum):
    """The distribution of one cause."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    STUDENT = "Student's t"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One input of an additive model, about zero.

    ``scale`` is its standard uncertainty; for Student's t that of the scatter seen, s/√n, to which the
    degrees of freedom add their own width (JCGM 101:2008, 6.4.9).
    """

    shape: Shape
    scale: float
    dof: float = math.inf


def cause_of(part: Contribution) -> Cause:
    """Give the distribution of a line of a budget: seen scatter has degrees of freedom, limits have none."""
    if math.isfinite(part.dof):
        return Cause(shape=Shape.STUDENT, scale=part.standard_uncertainty_mm, dof=part.dof)
    return Cause(shape=Shape.RECTANGULAR, scale=part.standard_uncertainty_mm)


def propagate(value: float, causes: Sequence[Cause], draws: int = DRAWS, seed: int = SEED) -> MonteCarlo:
    """Propagate an additive model by random draws.

    Parameters
    ----------
    value : float
        What was measured; the causes add to it.
    causes : sequence of Cause
    draws : int
        10⁵ give the ends of the interval to about 1 % of its width.
    seed : int
        The same seed gives the same numbers; each cause has draws of its own.

    Returns
    -------
    MonteCarlo
        ``standard_uncertainty_mm`` is ``None`` where a Student's t of two degrees of freedom or fewer is
        among the causes: its draws have no standard deviation. The interval is there all the same.
    """
    total = np.zeros(draws)
    for k, cause in enumerate(causes):
        if cause.scale > 0:
            total += cause.scale * _standard(cause.shape, cause.dof, draws, seed + k)
    total.sort()
    low, high = shortest_interval(total)
    wild = any(cause.dof <= 2 and cause.scale > 0 for cause in causes if cause.shape is Shape.STUDENT)
    return MonteCarlo(
        mean_mm=value + float(np.median(total) if wild else total.mean()),
        standard_uncertainty_mm=None if wild else float(total.std(ddof=1)),
        interval_mm=(value + low, value + high),
        half_width_mm=(high - low) / 2,
        draws=draws,
    )


def shortest_interval(ordered: Floats, covered: float = COVERED) -> tuple[float, float]:
    """Give the shortest interval that holds a share of ordered draws (JCGM 101:2008, 5.3.4 and 7.7).

    >>> shortest_interval(np.array([0.0, 1.0, 1.1, 1.2, 9.0]), covered=0.6)
    (1.0, 1.2)
    """
    inside = math.ceil(covered * ordered.size)
    widths = ordered[inside - 1 :] - ordered[: ordered.size - inside + 1]
    first = int(np.argmin(widths))
    return float(ordered[first]), float(ordered[first + inside - 1])


@lru_cache(maxsize=64)
def _standard(shape: Shape, dof: float, draws: int, seed: int) -> Floats:
    """Draw one cause at unit scale; the same few are needed for every sag of every log."""
    random = np.random.default_rng(seed)
    if shape is Shape.NORMAL:
        drawn = random.normal(size=draws)
    elif shape is Shape.RECTANGULAR:
        drawn = random.uniform(-math.sqrt(3.0), math.sqrt(3.0), draws)
    else:
        drawn = random.standard_t(dof, draws)
    drawn.setflags(write=False)
    return np.asarray(drawn, dtype=np.float64)
