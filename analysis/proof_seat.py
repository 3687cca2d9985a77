"""How much lower the rider sits after the work: from sags, from rides, by tape, against what was wanted.

A topped-out zero moves with the parts, so sags alone do not show what the parts give: that is taken as
planned, and what the sags differ from the plan is added, shared by where the seat lies between the axles.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.plan_results import Option, Plan
from analysis.proof_judging import added, estimate, judged, moved
from analysis.proof_results import Estimate, Promise
from analysis.results import Quantity
from analysis.spring_statics import along_travel
from ingest.errors import CannotAnswer
from ingest.records import Bike, End


def seat_promises(
    plan: Plan,
    done: Option,
    bike: Bike,
    promises: Sequence[Promise],
    taped: Quantity | None,
    *,
    parts_as_planned: bool,
    as_fitted: Quantity | None = None,
) -> Iterator[Promise]:
    """Give the promises about the seat; those of the ends are already judged.

    Parameters
    ----------
    plan : Plan
    done : Option
        The option that was carried out.
    bike : Bike
    promises : sequence of Promise
        Of both ends.
    taped : Quantity, optional
        Floor to seat, before less after.
    parts_as_planned : bool
        Whether the parts that were fitted are the planned ones: else sags alone tell nothing of the seat.
    as_fitted : Quantity, optional
        Then that from sags and the parts that were fitted, where it is known.
    """
    promised = estimate(done.seat_drop_mm)
    shares = _shares(plan, bike) if parts_as_planned else None
    off = _together(promises, "rider_sag_mm", shares)
    from_sags = estimate(as_fitted) if off is None else None
    if promised is not None and off is not None:
        from_sags = _measured(promised.value, off)
    yield judged("seat_drop_mm", None, before=None, promised=promised, measured=from_sags, difference=off)
    riding = _together(promises, "mean_mm", shares)
    if promised is not None and riding is not None:
        yield judged(
            "seat_drop_riding_mm",
            None,
            before=None,
            promised=promised,
            measured=_measured(promised.value, riding),
            difference=riding,
        )
    by_tape = estimate(taped)
    if by_tape is not None:
        yield judged("seat_drop_taped_mm", None, before=None, promised=promised, measured=by_tape)
    wanted = estimate(plan.how_much.wanted_mm)
    best = by_tape or from_sags
    if wanted is not None and best is not None:
        since_boards = moved(best, _since_boards_mm(plan, shares))
        yield judged("wanted_mm", None, before=None, promised=wanted, measured=since_boards)


def _shares(plan: Plan, bike: Bike) -> dict[End, float] | None:
    """Give how much lower the seat is for a millimetre along the travel of each end."""
    ahead = plan.how_much.seat_share
    try:
        return {
            End.FRONT: ahead * along_travel(bike, End.FRONT),
            End.REAR: (1.0 - ahead) * along_travel(bike, End.REAR),
        }
    except CannotAnswer:
        return None


def _since_boards_mm(plan: Plan, shares: dict[End, float] | None) -> float:
    """Give how much lower the rider sat already before the work than when the boards were laid."""
    lower = 0.0
    for end, sag in ((End.FRONT, plan.how_much.front), (End.REAR, plan.how_much.rear)):
        if shares is not None and sag.rider_sag_mm is not None and sag.at_boards_mm is not None:
            lower += shares[end] * (sag.rider_sag_mm.value - sag.at_boards_mm.value)
    return lower


def _together(promises: Sequence[Promise], name: str, shares: dict[End, float] | None) -> Estimate | None:
    """Add up at the seat what both ends differ from their promise."""
    ends = {one.end: one.difference for one in promises if one.name == name}
    if shares is None:
        return None
    parts = []
    for end in End:
        difference = ends.get(end)
        if difference is None:
            return None
        parts.append((shares[end], difference))
    return added(parts)


def _measured(promised_mm: float, off: Estimate) -> Estimate:
    return moved(off, promised_mm)
