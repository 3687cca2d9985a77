"""Doubt, put together after the GUM: the few rules that every budget here uses.

GUM: JCGM 100:2008, "Evaluation of measurement data – Guide to the expression of uncertainty in measurement".
Each contribution is a standard uncertainty with its degrees of freedom (4.2 and 4.3). They are combined as
the root of the sum of squares (5.1), the effective degrees of freedom after Welch and Satterthwaite (G.4),
and the expanded uncertainty takes Student's t for 95 in 100. What rests on judgement says so in its basis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, stdtrit

from analysis.results import Quantity
from ingest.errors import CannotAnswer

Floats = npt.NDArray[np.float64]


STATED_DOF = 8.0
"""Weight of a stated standard uncertainty: taken to be right to about 25 % (JCGM 100:2008, G.4.2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One cause of doubt: its standard uncertainty in mm, degrees of freedom, and where it is from."""

    cause: str
    standard_uncertainty_mm: float
    dof: float
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeA:
    """Repeated readings evaluated by statistics (JCGM 100:2008, 4.2)."""

    mean: float
    sd: float
    sd_of_mean: float
    dof: int


def type_a(readings: Sequence[float] | Floats) -> TypeA:
    """Give mean, experimental standard deviation, that of the mean, and degrees of freedom of n ≥ 2 readings.

    >>> type_a([1.0, 2.0, 3.0]).sd
    1.0
    """
    values = np.asarray(readings, dtype=float)
    if values.size < 2:
        raise CannotAnswer(f"{values.size} reading(s): statistics need two or more")
    sd = float(values.std(ddof=1))
    return TypeA(
        mean=float(values.mean()), sd=sd, sd_of_mean=sd / math.sqrt(values.size), dof=values.size - 1
    )


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a quantity that lies anywhere within ± half_width (JCGM 100:2008, 4.3.7)."""
    return half_width / math.sqrt(3.0)


def combined(contributions: Sequence[Contribution]) -> tuple[float, float]:
    """Give the combined standard uncertainty and its effective degrees of freedom (Welch–Satterthwaite)."""
    variance = sum(part.standard_uncertainty_mm**2 for part in contributions)
    if variance == 0.0:
        return 0.0, math.inf
    share = sum(part.standard_uncertainty_mm**4 / part.dof for part in contributions)
    return math.sqrt(variance), variance**2 / share if share > 0 else math.inf


def coverage_factor(dof: float) -> float:
    """Give k for about 95 in 100: Student's t, or the normal distribution where nothing was estimated.

    >>> round(coverage_factor(9.0), 3), round(coverage_factor(math.inf), 2)
    (2.262, 1.96)
    """
    return float(stdtrit(dof, 0.975)) if math.isfinite(dof) else 1.96


def with_uncertainty(value: float, contributions: Sequence[Contribution]) -> Quantity:
    """Put the expanded uncertainty, about 95 in 100, beside a value."""
    u, dof = combined(contributions)
    k = coverage_factor(dof)
    return Quantity(value=value, expanded_uncertainty=k * u, coverage_factor=k)


def pooled_sd(seen: float | None, dof: int, stated: float | None) -> tuple[float | None, float, bool]:
    """Pool the scatter seen in a fit with what was stated beforehand, by degrees of freedom.

    Gives the standard deviation of one point, its degrees of freedom, and whether the points scatter
    clearly more than stated (beyond 97.5 % of χ²): then only their scatter counts. ``None``: neither known.

    >>> pooled_sd(None, 0, 0.5)
    (0.5, 8.0, False)
    >>> pooled_sd(2.0, 4, 0.5)
    (2.0, 4.0, True)
    """
    if stated is None:
        return seen, float(dof) if seen is not None else math.inf, False
    if seen is None:
        return stated, STATED_DOF, False
    if dof * (seen / stated) ** 2 > chdtri(dof, 0.025):
        return seen, float(dof), True
    total = STATED_DOF + dof
    return math.sqrt((STATED_DOF * stated**2 + dof * seen**2) / total), total, False
