"""Where the suspension lives on a ride, in words: ride position, what is left from there, packing down."""

from __future__ import annotations

from analysis.ride_results import EndRide, RideHeight, RideSummary
from dashboard import units as show
from dashboard.ride_events import ends_of
from dashboard.units import NOTHING, Units
from dashboard.wording import CANNOT_TELL, Table
from ingest.records import End

NO_SAG = "no sag check yet"


def ride_position(end: EndRide, units: Units = Units.MM) -> str:
    """Write the mean ride position, with its ± where the ride is long enough to know it, without the unit.

    Whole millimetres (tenths of an inch) are enough; a doubt of less is written as one.
    """
    value = show.length_number(end.mean_mm, units, 0)
    doubt_mm = position_doubt_mm(end)
    if doubt_mm is None:
        return value
    least_mm = show.MM_PER_INCH / 10 if units is Units.IN else 1.0
    return f"{value} ± {show.length_number(max(doubt_mm, least_mm), units, 0)}"


def position_doubt_mm(end: EndRide) -> float | None:
    """Give half of the interval of the mean ride position."""
    if end.height is None or end.height.interval_mm is None:
        return None
    low, high = end.height.interval_mm
    return (high - low) / 2


def height_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write front and rear side by side: where it rides, against sag, what is left, what the rough does."""
    ends = (ride.front, ride.rear)
    rows = [
        ("rides at", *(_rides_at(end, units) for end in ends)),
        ("against rider sag at rest", *(_against_sag(end, units) for end in ends)),
        ("travel left from there", *(_left(end, units, deepest=False) for end in ends)),
        ("travel left at the deepest", *(_left(end, units, deepest=True) for end in ends)),
        ("where it is rough", *(_rough(end.height if end else None) for end in ends)),
    ]
    return Table(head=("", "front", "rear"), rows=tuple(rows))


def _rides_at(end: EndRide | None, units: Units) -> str:
    if end is None:
        return NOTHING
    return f"{ride_position(end, units)} {units} ({show.percent(100 * end.mean_mm / end.travel_mm)})"


def _against_sag(end: EndRide | None, units: Units) -> str:
    if end is None:
        return NOTHING
    change = end.height.against_sag_mm if end.height else None
    if change is None:
        return NO_SAG
    decimals = show.decimals_for(change.expanded_uncertainty)
    doubt = show.length_number(change.expanded_uncertainty, units, decimals)
    return f"{show.length_number(change.value, units, decimals, sign=True)} ± {doubt} {units}"


def _left(end: EndRide | None, units: Units, *, deepest: bool) -> str:
    if end is None or end.height is None:
        return NOTHING
    left_mm = end.height.left_at_deepest_mm if deepest else end.height.left_mm
    if left_mm < 0:
        return f"none: {show.length(-left_mm, units)} into the stop"
    return show.length(left_mm, units, 0)


def _rough(height: RideHeight | None) -> str:
    return NOTHING if height is None else height.rough_word


def rough_lines(ride: RideSummary, units: Units = Units.MM) -> tuple[str, ...]:
    """Say of each end whether it packs down or jacks up where it is rough, and what that means."""
    return tuple(
        line for end, result in ends_of(ride) if (line := _rough_line(end, result.height, units)) is not None
    )


def _rough_line(end: End, height: RideHeight | None, units: Units) -> str | None:
    if height is None:
        return None
    name, word = str(end).capitalize(), height.rough_word
    if word == CANNOT_TELL or height.rough_change_mm is None:
        return f"{name}: cannot tell whether it packs down; a longer ride with smooth and rough parts would."
    change = show.quantity(height.rough_change_mm, units).lstrip(show.MINUS)
    meaning = {
        "packs down": f"packs down: {change} {units} deeper in the roughest third of the ride than in the "
        "smoothest. One cause is that it does not come back in time for the next bump: try less rebound "
        "damping; braking or climbing in the rough is another.",
        "jacks up": f"jacks up: {change} {units} higher in the roughest third of the ride than in the "
        "smoothest. One cause is that it is held up: try less compression damping; weight that moves to the "
        "other end in the rough is another.",
        "holds its height": "holds its height where it is rough.",
    }
    return f"{name} {meaning.get(word, word)}"
