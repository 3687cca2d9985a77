"""How far work moved a wheel up in the bike: where its travel sits, not where the wheel sits on it.

Sag and ride logs see the wheel on its own travel. A part that moves the whole travel (linkage plates, another
shock, raised fork tubes, a spacer) shows in the room at full bump, measured before and after; else it has to
be known from the part. Where neither tells, it is not known.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

from analysis.effective import effective_bike
from analysis.gum import rectangular
from analysis.propagation import Input
from ingest.records import Bike, End, Setup, Suspension

ROOM_HALF_MM = 2.0
"""Room at full bump by rule or with clay, each time within ± this. Common practice, no source."""
STATED_HALF_MM = 2.0
"""What a part is said to move the wheel by, within ± this (judgement)."""
AGREES_MM = 3.0
"""Travel that was lost and what the parts explain of it agree within this (judgement)."""
MOVES_THE_WHEEL = (
    "travel_mm",
    "leverage",
    "raised_in_clamps_mm",
    "shock_length_mm",
    "shock_stroke_mm",
    "fork_spacer_mm",
    "plates_fitted",
)
MEASURE_ROOM = (
    "measure the room at full bump before and after the work and write full_bump_room_mm into both setups, "
    "or measure from floor to seat with the rider aboard, before and after"
)
MEASURE_BOTH_ROOMS = (
    "measure the room at full bump and write full_bump_room_mm into the bike file and into the setup"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """How much further up in the bike the topped-out wheels are than in its file, along their travel, mm.

    ``None`` where that is not known; ``unknown`` then says which end.
    """

    front_mm: float | None = 0.0
    rear_mm: float | None = 0.0

    @property
    def unknown(self) -> tuple[str, ...]:
        """Name the ends of which it is not known."""
        return tuple(
            str(end) for end, up in ((End.FRONT, self.front_mm), (End.REAR, self.rear_mm)) if up is None
        )


def moved_by_setup(bike: Bike, setup: Setup | None) -> Moved:
    """Tell how far a setup moved both wheels up in the bike, from what file and setup say.

    Parameters
    ----------
    bike : Bike
        As its file has it.
    setup : Setup or None
    """
    now = effective_bike(bike, setup)
    ups = []
    for end in End:
        was, then = bike.suspension(end), now.suspension(end)
        if was is None or then is None:
            ups.append(0.0 if was is then else None)
            continue
        room = None if setup is None else setup.end(end).full_bump_room_mm
        up, _ = moved_up(was, then, end, room_now_mm=room)
        ups.append(None if up is None else up.value)
    return Moved(front_mm=ups[0], rear_mm=ups[1])


def moved_up(
    was: Suspension, now: Suspension, end: End, *, room_now_mm: float | None, stayed: bool = False
) -> tuple[Input | None, str]:
    """Tell how much further up in the bike the topped-out wheel is, along its travel, and how it is known.

    Parameters
    ----------
    was, now : Suspension
        Before and after the work.
    end : End
    room_now_mm : float or None
        Room at full bump as measured after the work.
    stayed : bool
        Whether the sensor shows that the travel was taken off at the topped-out end.

    Returns
    -------
    Input or None, str
        ``None`` where it is not known; the words then say what to measure.
    """
    lost = was.travel_mm - now.travel_mm
    if was.full_bump_room_mm is not None and room_now_mm is not None:
        up = lost + was.full_bump_room_mm - room_now_mm
        room = _input(up, 2 * [ROOM_HALF_MM])
        return room, "from the travel and the room at full bump, measured both times"
    if all(getattr(was, name) == getattr(now, name) for name in MOVES_THE_WHEEL):
        return _input(0.0, []), "no part was changed that moves the wheel in the bike"
    raised = (now.raised_in_clamps_mm or 0.0) - (was.raised_in_clamps_mm or 0.0)
    if stayed:
        return _input(lost + raised, [STATED_HALF_MM]), "its sensor shows that full bump stayed where it was"
    if end is End.FRONT:
        return _stated_front(was, now, lost, raised)
    return _stated_plates(was, now, lost)


def _stated_front(was: Suspension, now: Suspension, lost: float, raised: float) -> tuple[Input | None, str]:
    if was.leverage != now.leverage or was.shock_length_mm != now.shock_length_mm:
        return None, MEASURE_ROOM
    spacer = (now.fork_spacer_mm or 0.0) - (was.fork_spacer_mm or 0.0)
    if abs(lost - spacer) > AGREES_MM:
        return None, f"{lost:.0f} mm of travel went, spacers explain {spacer:.0f}: {MEASURE_ROOM}"
    return _input(raised + spacer, [STATED_HALF_MM]), "from the parts, as the setups say them"


def _stated_plates(was: Suspension, now: Suspension, lost: float) -> tuple[Input | None, str]:
    drops = {one.name: one.drop_mm for one in now.plates}
    fitted = [0.0 if one.plates_fitted is None else drops.get(one.plates_fitted) for one in (was, now)]
    same_shock = was.shock_length_mm == now.shock_length_mm and was.shock_stroke_mm == now.shock_stroke_mm
    old, new = fitted
    if old is None or new is None or old == new or not same_shock or abs(lost) > AGREES_MM:
        return None, MEASURE_ROOM
    return _input(new - old, [STATED_HALF_MM]), "from the drop of the plates, as their maker says it"


def _input(value: float, half_widths: Collection[float]) -> Input:
    return Input(value=value, u=math.hypot(*map(rectangular, half_widths)), basis="as fitted")
