"""Wheel rate: from spring, preload and leverage, and from what sag did under a known change of load.

With the stroke s of the spring as a function of the wheel travel w, the force at the wheel is
F_w = F_s · ds/dw, and its slope, the wheel rate, has two terms:

    k_w = k_s (ds/dw)²  +  F_s d²s/dw²
          spring term      preload-force term

The second one is there because a changing leverage gives the force already in the spring another arm;
dropping it understates a rising-rate linkage (V. Cossalter, Motorcycle Dynamics, 2nd ed., 2006, chapter 5,
formula from memory, not checked against the text; it is the derivative of the first line). What two sags
give is not a slope but a secant, the mean rate between them, and is called so.

All of this is along the wheel's travel. For a telescopic fork, a rate against vertical travel of the frame
is larger by 1 / cos²(rake).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.gum import Contribution, combined, coverage_factor, with_uncertainty
from analysis.load_change import LoadChange
from analysis.propagation import measured
from analysis.results import Budget, BudgetLine, EndSag, MeasuredRate, Quantity
from analysis.spring_statics import STANDARD_GRAVITY_M_S2, SpringEnd

TELLS_SHARE = 0.20
"""A rate known worse than this cannot tell neighbouring springs apart (judgement: they come in steps of
5 to 10 %, and two steps matter)."""
CANCELS = ("topped-out reading",)
PARTLY_SHARED = ("calibration", "sensor's line", "friction")
"""Errors of these are much alike at both sags; taken as correlated by one half (judgement)."""
LOAD = "change of load"
WORTH_LOADING_KG = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelRate:
    """Wheel rate at one position, N/mm along the travel, its two terms apart."""

    spring_term_n_mm: float
    preload_force_term_n_mm: float

    @property
    def total_n_mm(self) -> float:
        """The wheel rate."""
        return self.spring_term_n_mm + self.preload_force_term_n_mm


def force_at_wheel_n(spring_force_n: float, ratio: float) -> float:
    """Force at the wheel of a spring force through d(stroke)/d(wheel travel).

    >>> force_at_wheel_n(3000.0, 0.4)
    1200.0
    """
    return spring_force_n * ratio


def wheel_rate(
    spring_rate_n_mm: float, spring_force_n: float, ratio: float, ratio_change_per_mm: float
) -> WheelRate:
    """Give the wheel rate of a spring through a leverage.

    Parameters
    ----------
    spring_rate_n_mm, spring_force_n : float
        Of the spring at this position.
    ratio : float
        d(stroke)/d(wheel travel), the inverse of the leverage.
    ratio_change_per_mm : float
        d²(stroke)/d(wheel travel)², 1/mm.

    Examples
    --------
    >>> round(wheel_rate(90.0, 3037.5, 0.53, 0.0022).total_n_mm, 4)
    31.9635
    """
    return WheelRate(
        spring_term_n_mm=spring_rate_n_mm * ratio**2,
        preload_force_term_n_mm=spring_force_n * ratio_change_per_mm,
    )


def rate_at(end: SpringEnd, travel_mm: float) -> WheelRate:
    """Give the wheel rate of one end of a bike at a wheel travel; known air counts as part of the spring."""
    rate = end.rate_n_mm
    if end.air is not None:
        rate += end.air.rate_n_mm(end.stroke_mm(travel_mm))
    return wheel_rate(
        rate, end.spring_force_n(travel_mm), end.ratio(travel_mm), end.ratio_change_per_mm(travel_mm)
    )


def secant_n_mm(end: SpringEnd, from_mm: float, to_mm: float) -> float:
    """Give the mean wheel rate between two wheel travels, N/mm: change of force over change of travel."""
    return (end.force_n(to_mm) - end.force_n(from_mm)) / (to_mm - from_mm)


def sag_change(unladen: Quantity, rider: Quantity, budgets: tuple[Budget, Budget] | None) -> Contributions:
    """Give what makes the doubt of the difference of two sags of one end, mm.

    ``budgets`` are those of unladen and rider sag: what both share cancels or cancels in part. Without them
    the two sags count as independent.
    """
    if budgets is None:
        parts = [measured(sag, basis) for sag, basis in ((unladen, "unladen sag"), (rider, "rider sag"))]
        return tuple(
            Contribution(cause=part.basis, standard_uncertainty_mm=part.u, dof=part.dof, basis="as stated")
            for part in parts
        )
    alone, aboard = ({line.cause: line for line in budget.lines} for budget in budgets)
    causes = [cause for cause in dict.fromkeys([*alone, *aboard]) if cause not in CANCELS]
    return tuple(_difference(cause, alone.get(cause), aboard.get(cause)) for cause in causes)


Contributions = tuple[Contribution, ...]


def _difference(cause: str, first: BudgetLine | None, second: BudgetLine | None) -> Contribution:
    lines = [line for line in (first, second) if line is not None]
    sizes = [line.standard_uncertainty_mm for line in lines]
    variance = sum(size**2 for size in sizes)
    if cause in PARTLY_SHARED and len(sizes) == 2:
        variance -= math.prod(sizes)
    together = sum(line.standard_uncertainty_mm**4 / line.dof for line in lines)
    dof = sum(size**2 for size in sizes) ** 2 / together if together > 0 else math.inf
    return Contribution(
        cause=cause, standard_uncertainty_mm=math.sqrt(variance), dof=dof, basis="of both sags"
    )


def measured_rate(
    found: EndSag, load: LoadChange, along: float, spring: SpringEnd | None = None
) -> MeasuredRate | None:
    """Work out the wheel rate actually present from both sags of one end and the change of load.

    Parameters
    ----------
    found : EndSag
        With unladen and rider sag; ``None`` comes back where one of them is missing.
    load : LoadChange
        Vertical, at this end.
    along : float
        The share of it that acts along the travel, cos(rake) for a telescopic fork.
    spring : SpringEnd, optional
        What the bike file says of the springs, for the rate to expect.
    """
    unladen, rider = found.unladen_sag_mm, found.rider_sag_mm
    if unladen is None or rider is None:
        return None
    budgets = (
        None
        if found.unladen_budget is None or found.rider_budget is None
        else (found.unladen_budget, found.rider_budget)
    )
    parts = sag_change(unladen, rider, budgets)
    change = with_uncertainty(rider.value - unladen.value, parts)
    rate, dominates = _secant(change, parts, load, along)
    expected = None
    if spring is not None and rider.value > unladen.value:
        expected = secant_n_mm(spring, unladen.value, rider.value)
    word = _word(rate, expected)
    return MeasuredRate(
        secant_n_mm=rate,
        from_mm=unladen.value,
        to_mm=rider.value,
        sag_change_mm=change,
        load_change_kg=Quantity(
            value=load.kg,
            expanded_uncertainty=coverage_factor(load.dof) * load.u_kg,
            coverage_factor=coverage_factor(load.dof),
        ),
        load_basis=load.basis,
        expected_n_mm=expected,
        word=word,
        dominates=dominates,
        would_tell=_would_tell(change, load, dominates) if word == "cannot tell" else None,
    )


def _secant(
    change: Quantity, parts: Sequence[Contribution], load: LoadChange, along: float
) -> tuple[Quantity | None, str]:
    """Divide, with the doubt of the load put as the sag it would make, so that all causes compare in mm."""
    if change.value <= change.expanded_uncertainty or load.kg <= 0:
        return None, max(parts, key=lambda part: part.standard_uncertainty_mm).cause
    as_sag = Contribution(
        cause=LOAD,
        standard_uncertainty_mm=change.value * load.u_kg / load.kg,
        dof=load.dof,
        basis=load.basis,
    )
    everything = (*parts, as_sag)
    u, dof = combined(everything)
    rate = load.kg * STANDARD_GRAVITY_M_S2 * along / change.value
    k = coverage_factor(dof)
    doubt = Quantity(value=rate, expanded_uncertainty=k * u * rate / change.value, coverage_factor=k)
    return doubt, max(everything, key=lambda part: part.standard_uncertainty_mm).cause


def _word(rate: Quantity | None, expected: float | None) -> str:
    if rate is None or rate.expanded_uncertainty > TELLS_SHARE * rate.value:
        return "cannot tell"
    if expected is None:
        return "measured"
    if abs(rate.value - expected) <= rate.expanded_uncertainty:
        return "as expected"
    return "stiffer than expected" if rate.value > expected else "softer than expected"


def _would_tell(change: Quantity, load: LoadChange, dominates: str) -> str:
    """Say what would settle it: weighing where the load is the weak point, else a load that moves it more."""
    if dominates == LOAD and not load.weighed:
        return "weigh both axles, the bike alone and with the rider aboard"
    if change.value <= change.expanded_uncertainty or load.kg <= 0:
        return "read both loads again, three times from above and from below, with a heavier known load"
    # Half of what may be unknown is left for the load itself.
    needed_mm = change.expanded_uncertainty / (TELLS_SHARE / math.sqrt(2.0))
    needed_kg = WORTH_LOADING_KG * math.ceil(load.kg * needed_mm / change.value / WORTH_LOADING_KG)
    if needed_kg <= load.kg:
        return "read both loads three times from above and from below, and weigh both axles"
    return f"put a known load of about {needed_kg:.0f} kg straight over this axle instead of the rider"
