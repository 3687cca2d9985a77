"""Doubt of a calculated length: every input moved by its own standard uncertainty, one after the other.

JCGM 100:2008 (GUM), 5.1.2 and 5.1.3: the sensitivity of the result to each input by central differences;
inputs are independent of each other, so what is shared by two of them is an input of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from scipy.special import stdtridf

from analysis.gum import Contribution, with_uncertainty
from analysis.results import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One input: its value, standard uncertainty in its own unit, degrees of freedom, where it is from."""

    value: float
    u: float
    basis: str
    dof: float = math.inf


def measured(quantity: Quantity, basis: str) -> Input:
    """Take a measured quantity as an input, its degrees of freedom from its coverage factor.

    >>> round(measured(Quantity(value=40.0, expanded_uncertainty=2.262, coverage_factor=2.262), "").dof)
    9
    """
    k = quantity.coverage_factor
    dof = math.inf if k <= 1.9601 else float(stdtridf(0.975, k))
    return Input(value=quantity.value, u=quantity.expanded_uncertainty / k, dof=dof, basis=basis)


def propagate(
    result: Callable[[Mapping[str, float]], float], inputs: Mapping[str, Input]
) -> tuple[Quantity, tuple[Contribution, ...]]:
    """Give a calculated length with its expanded uncertainty, and what each input contributes, in mm.

    Parameters
    ----------
    result : callable
        From the inputs' values, under their names, to a length in mm.
    inputs : mapping
        By name; the names become the causes of the budget.

    Examples
    --------
    >>> area, budget = propagate(lambda x: x["a"] * x["b"], {
    ...     "a": Input(value=3.0, u=0.1, basis="ruler"), "b": Input(value=4.0, u=0.0, basis="exact")})
    >>> round(area.value, 3), round(area.expanded_uncertainty, 3), budget[0].cause
    (12.0, 0.784, 'a')
    """
    values = {name: one.value for name, one in inputs.items()}
    budget = tuple(
        Contribution(
            cause=name,
            standard_uncertainty_mm=_moved(result, values, name, one.u),
            dof=one.dof,
            basis=one.basis,
        )
        for name, one in inputs.items()
    )
    return with_uncertainty(result(values), budget), budget


def _moved(
    result: Callable[[Mapping[str, float]], float], values: Mapping[str, float], name: str, u: float
) -> float:
    if u == 0.0:
        return 0.0
    up, down = (result({**values, name: values[name] + step}) for step in (u, -u))
    return abs(up - down) / 2
