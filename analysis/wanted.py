"""Lowering wanted at the seat: from boards under the feet, or from inseam and reach.

Boards under both feet, with the rider aboard, are the surest: what is wanted is felt, not worked out. An
inseam comes next; a stature alone is refused, because it says the inseam far too loosely.
"""

from __future__ import annotations

import math

from analysis.gum import rectangular
from analysis.how_much import Wanted
from analysis.results import Quantity
from ingest.errors import UsageError

BOARD_HALF_MM = 0.5
"""Thickness of a board by caliper or rule, within ± this (judgement)."""
STACK_HALF_MM = 2.0
"""A whole stack by rule, under feet in boots, within ± this (judgement)."""
MOST_MM = 300.0
SOLE_MM, SOLE_HALF_MM = 30.0, 10.0
"""What boots add to a bare inseam. Common practice, no source."""
SPREAD_MM, SPREAD_HALF_MM = 30.0, 20.0
"""What legs lose around a seat instead of hanging straight. Common practice, no source."""
INSEAM_HALF_MM = 10.0
"""An inseam with a book and a rule against the wall, within ± this (judgement)."""
# Gordon, C. C. et al., 2012 Anthropometric Survey of U.S. Army Personnel (ANSUR II), NATICK/TR-15/007, public
# data of 4082 men and 1986 women: crotch height by stature, scatter about the straight line, mm (one standard
# deviation; worked out from the single records).
STATURE_SCATTER_MM = {"men": 23.878, "women": 23.583}
STATURE_REFUSED = (
    "a stature alone is too loose: it tells the inseam to "
    f"± {1.96 * max(STATURE_SCATTER_MM.values()):.0f} mm only (ANSUR II, 2012, 6068 people); put boards "
    "under the rider's feet and give --board-stack-mm, or measure the inseam, barefoot with a book between "
    "the legs, and give --inseam-mm"
)
"""What a stature alone is answered with."""


def from_boards(count: float, board_mm: float) -> Wanted:
    """Give the lowering of a number of boards of a true thickness.

    >>> from_boards(3, 12.7).amount_mm.value
    38.1
    """
    if not (0 < count <= 40 and 1.0 <= board_mm <= 100.0):
        raise UsageError(f"{count:g} boards of {board_mm:g} mm: give 1 to 40 boards of 1 to 100 mm each")
    half = count * BOARD_HALF_MM
    return _wanted(round(count * board_mm, 9), half, f"{count:g} boards of {board_mm:.4g} mm under the feet")


def from_stack(stack_mm: float) -> Wanted:
    """Give the lowering of a board stack measured as a whole."""
    if not 0.0 <= stack_mm <= MOST_MM:
        raise UsageError(f"a board stack of {stack_mm:g} mm: 0 to {MOST_MM:g} mm is allowed")
    return _wanted(stack_mm, STACK_HALF_MM, "boards under the feet")


def from_reach(seat_aboard_mm: Quantity, reach_mm: float) -> Wanted:
    """Give the lowering from the seat height the rider can reach, both feet as wanted, on anything.

    ``seat_aboard_mm`` is the height of this bike's seat with the rider aboard.
    """
    half = INSEAM_HALF_MM
    return _less(seat_aboard_mm, reach_mm, half, f"a seat within reach at {reach_mm:.0f} mm")


def from_inseam(seat_aboard_mm: Quantity, inseam_mm: float) -> Wanted:
    """Give the lowering from an inseam, measured barefoot with a book and a rule; good to some cm.

    >>> found = from_inseam(Quantity(value=850.0, expanded_uncertainty=8.0, coverage_factor=2.0), 800.0)
    >>> round(found.amount_mm.value), round(found.amount_mm.expanded_uncertainty)
    (50, 29)
    """
    if not 400.0 <= inseam_mm <= 1100.0:
        raise UsageError(
            f"an inseam of {inseam_mm:g} mm: 400 to 1100 mm is allowed, floor to crotch, barefoot"
        )
    half = math.hypot(INSEAM_HALF_MM, SOLE_HALF_MM, SPREAD_HALF_MM)
    return _less(
        seat_aboard_mm,
        inseam_mm + SOLE_MM - SPREAD_MM,
        half,
        f"an inseam of {inseam_mm:.0f} mm, {SOLE_MM:g} mm of sole, {SPREAD_MM:g} mm lost around the seat "
        "(common practice, no source)",
    )


def _less(seat_aboard_mm: Quantity, reach_mm: float, half: float, source: str) -> Wanted:
    u = seat_aboard_mm.expanded_uncertainty / seat_aboard_mm.coverage_factor
    amount = max(seat_aboard_mm.value - reach_mm, 0.0)
    doubt = 1.96 * math.hypot(u, rectangular(half))
    said = f"{source}, against a seat at {seat_aboard_mm.value:.0f} mm with the rider aboard"
    return Wanted(
        amount_mm=Quantity(value=amount, expanded_uncertainty=doubt, coverage_factor=1.96), source=said
    )


def _wanted(amount_mm: float, half_mm: float, source: str) -> Wanted:
    doubt = 1.96 * rectangular(half_mm)
    return Wanted(
        amount_mm=Quantity(value=amount_mm, expanded_uncertainty=doubt, coverage_factor=1.96), source=source
    )
