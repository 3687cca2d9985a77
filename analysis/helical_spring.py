"""The rate of a helical compression spring from its wire: k = G d⁴ / (8 D³ n).

R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, chapter 10, from memory. The wire
counts to the fourth power and the coil to the third: measure both with a caliper, at three places.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.results import Quantity
from ingest.errors import UsageError

SHEAR_MODULUS_GPA = 79.0
"""Spring steel for forks and shocks: 77.2 (Shigley) to 79.5 GPa (EN 13906-1) for chrome-silicon wire and 80
to 81.5 for music wire, all from memory. The middle, with `SHEAR_MODULUS_SHARE` around it."""
SHEAR_MODULUS_SHARE = 0.02
CALIPER_MM = 0.05
"""Standard uncertainty of a wire or coil by caliper, paint included (judgement)."""
COILS = 0.15
"""Standard uncertainty of the number of active coils (judgement: where the end coils begin is not plain)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HelicalSpring:
    """What a spring's wire says. ``index`` is mean coil diameter over wire, usual are 4 to 12."""

    rate_n_mm: Quantity
    index: float
    solid_length_mm: float


def helical_rate_n_mm(
    wire_mm: float, mean_diameter_mm: float, active_coils: float, shear_modulus_gpa: float
) -> float:
    """Give the rate of a helical compression spring, N/mm.

    >>> round(helical_rate_n_mm(2.5, 22.25, 16.0, 79.3), 4)
    2.197
    """
    return 1000.0 * shear_modulus_gpa * wire_mm**4 / (8.0 * mean_diameter_mm**3 * active_coils)


def helical_spring(wire_mm: float, mean_diameter_mm: float, active_coils: float) -> HelicalSpring:
    """Work out a spring from its wire, with two dead coils, squared ends (solid: active + 3 wires thick).

    Raises
    ------
    UsageError
        The measures make no spring.
    """
    index = mean_diameter_mm / wire_mm if wire_mm > 0 else math.nan
    if not (index > 2 and active_coils >= 1):
        raise UsageError(
            f"a spring of {wire_mm:g} mm wire, {mean_diameter_mm:g} mm mean coil diameter and "
            f"{active_coils:g} active coils: the coil is over twice as wide as the wire, one turn or more"
        )
    rate = helical_rate_n_mm(wire_mm, mean_diameter_mm, active_coils, SHEAR_MODULUS_GPA)
    share = math.hypot(
        4 * CALIPER_MM / wire_mm,
        3 * CALIPER_MM / mean_diameter_mm,
        COILS / active_coils,
        SHEAR_MODULUS_SHARE,
    )
    return HelicalSpring(
        rate_n_mm=Quantity(value=rate, expanded_uncertainty=1.96 * share * rate, coverage_factor=1.96),
        index=index,
        solid_length_mm=(active_coils + 3.0) * wire_mm,
    )
