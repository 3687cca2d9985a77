"""What every means of lowering has in common: one end now, one end with a part fitted, and when to refuse.

A means moves the wheel up in the bike by some amount at full extension, may change the travel, and leaves a
sag to be set. All the rest follows: the drop at rider sag, the room at full bump, the travel left.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from analysis.results import Quantity
from analysis.spring_statics import FORK
from ingest.records import End, Suspension

LEAST_MARGIN_MM, MARGIN_MM = 10.0, 15.0
"""Room to keep at full bump, at least and better. Common practice, no source."""
LEAST_LEFT_SHARE = 0.5
"""Less compression travel at ride position than this share of what correct sag leaves now: refused
(judgement)."""
SETTLED_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class EndNow:
    """One end as it is. ``vertical`` is the vertical share of a millimetre along the travel.

    ``target_mm`` is where rider sag belongs on the travel of now; a part that changes the travel keeps its
    share. ``room_mm`` is what is left at full bump before something touches, along the travel.
    """

    end: End
    suspension: Suspension | None
    vertical: float
    rider: Quantity | None
    unladen: Quantity | None
    target_mm: float | None
    room_mm: float | None = None

    @property
    def goal_mm(self) -> float | None:
        """Where rider sag is to be on the travel of now: at its target, or where it is if there is none."""
        if self.target_mm is not None or self.rider is None:
            return self.target_mm
        return self.rider.value

    @property
    def share(self) -> float | None:
        """That as a share of the travel."""
        if self.suspension is None or self.goal_mm is None:
            return None
        return self.goal_mm / self.suspension.travel_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """One end with a means fitted.

    ``topped_up_mm`` is how much further up in the bike the wheel hangs, along its travel, with standard
    uncertainty ``topped_up_u_mm``; ``sag_mm`` where rider sag is then to be set. ``opened``: spring or
    preload are set anew, not turned from where they are; ``ratio_u`` is a standard uncertainty of the
    leverage then, as a share. ``radius_mm`` is a change of the wheel's radius. ``refused`` says what forbids
    it, ``notes`` what to mind.
    """

    means: str
    suspension: Suspension | None
    amount_mm: float | None = None
    topped_up_mm: float = 0.0
    topped_up_u_mm: float = 0.0
    sag_mm: float | None = None
    opened: bool = False
    ratio_u: float = 0.0
    radius_mm: float = 0.0
    refused: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def full_bump_up_mm(self, now: EndNow) -> float | None:
        """Give how far the wheel goes further up in the bike at full bump, along its travel."""
        if now.suspension is None or self.suspension is None:
            return self.topped_up_mm
        return self.topped_up_mm + self.suspension.travel_mm - now.suspension.travel_mm

    def axle_up_mm(self, now: EndNow) -> float | None:
        """Give how far the wheel sits further up at rider sag than now, along its travel."""
        if self.sag_mm is None or now.rider is None:
            return None
        return self.topped_up_mm + self.sag_mm - now.rider.value

    def parts_up_mm(self, now: EndNow) -> float:
        """Give the part of it that does not come from correct sag on the bike as it is."""
        if self.sag_mm is None or now.goal_mm is None:
            return self.topped_up_mm
        return self.topped_up_mm + self.sag_mm - now.goal_mm

    def refuse(self, *reasons: str) -> Fitted:
        """Add reasons against it."""
        return replace(self, refused=(*self.refused, *reasons))


def as_it_is(now: EndNow) -> Fitted:
    """Give the end untouched but for correct sag."""
    means = "as it is" if now.target_mm is None else "sag to target"
    return Fitted(means=means, suspension=now.suspension, sag_mm=now.goal_mm)


def travel_reasons(now: EndNow, fitted: Fitted) -> tuple[str, ...]:
    """Say whether it leaves too little compression travel at ride position."""
    then, sag, target = fitted.suspension, fitted.sag_mm, now.goal_mm
    if now.suspension is None or then is None:
        return ()
    if then.travel_mm <= 0 or (sag is not None and sag >= then.travel_mm):
        return (
            f"{now.end}: past the end of the travel: {max(then.travel_mm, 0.0):.0f} mm of "
            f"{now.suspension.travel_mm:.0f} mm would be left in all",
        )
    if sag is None or target is None:
        return ()
    left, was = then.travel_mm - sag, now.suspension.travel_mm - target
    if left < LEAST_LEFT_SHARE * was:
        return (
            f"{now.end}: leaves {left:.0f} mm of compression travel at ride position, less than half of the "
            f"{was:.0f} mm that correct sag leaves now",
        )
    return ()


def room_reasons(now: EndNow, up_mm: float) -> tuple[str, ...]:
    """Say whether the wheel may go up by so much at full bump; unknown room forbids it too."""
    if up_mm <= SETTLED_MM:
        return ()
    room = now.room_mm
    if room is None:
        return (f"{now.end}: the room at full bump was not measured: {how_to_measure_room(now.end)}",)
    if up_mm > room - LEAST_MARGIN_MM:
        most, better = room - LEAST_MARGIN_MM, room - MARGIN_MM
        may = f"up to {most:.0f} mm may" if most > 0 else "nothing may"
        best = f", better {better:.0f} mm" if better > 0 else ""
        return (
            f"{now.end}: {up_mm:.0f} mm further up at full bump where {room:.0f} mm of room is left: keep "
            f"{LEAST_MARGIN_MM:g} to {MARGIN_MM:g} mm, so {may} be used{best}",
        )
    return ()


def room_notes(now: EndNow, up_mm: float) -> tuple[str, ...]:
    """Say that a margin is a small one."""
    room = now.room_mm
    if room is None or up_mm <= SETTLED_MM or up_mm <= room - MARGIN_MM or up_mm > room - LEAST_MARGIN_MM:
        return ()
    return (f"{now.end}: only {room - up_mm:.0f} mm of room left at full bump; {MARGIN_MM:g} mm is better",)


def how_to_measure_room(end: End) -> str:
    """Say how the room at full bump is measured, and where it is written down."""
    if end is End.FRONT:
        return (
            "strap the front down or take the springs out, go up the travel from full extension to full "
            "bump, turn from lock to lock, and measure along the fork axis what is left before anything "
            "touches (tyre, mudguard, lower clamp, hoses); write full_bump_room_mm in [front], or give "
            "--full-bump-gap-mm"
        )
    return (
        "strap the rear down or take the spring out, and measure straight up what is left at full bump "
        "between tyre and everything above it; write full_bump_room_mm in [rear], or give "
        "--rear-full-bump-gap-mm"
    )


def usable_room_mm(now: EndNow) -> float | None:
    """Give how far the wheel may go up at full bump with the better margin kept."""
    room = now.room_mm
    return None if room is None else max(room - MARGIN_MM, 0.0)


def is_fork(now: EndNow) -> bool:
    """Whether this end is a telescopic fork; a front of which nothing is known is taken for one."""
    return now.end is End.FRONT and (now.suspension is None or now.suspension.kind == FORK)
