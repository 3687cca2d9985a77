"""What the work did to the bike, from what was measured on both sides of it: no plan, no promise.

Sag tells where the wheel sits on its own travel, not where that travel sits in the bike. A part that moves
the whole travel shows in the room at full bump, measured before and after; else it has to be known from the
part. Where neither tells, how much lower the seat is cannot be told from sag, and a tape has to.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from analysis.effective import effective_bike
from analysis.how_much import vertical_share
from analysis.means import EndNow, Fitted
from analysis.moved_wheel import AGREES_MM, MOVES_THE_WHEEL, moved_up
from analysis.plan_ends import end_plan
from analysis.plan_ground import consequences, ground_of
from analysis.plan_reasons import gives_up
from analysis.plan_results import EndPlan, Option
from analysis.propagation import Input, measured, propagate
from analysis.results import EndSag, Quantity, SagCheck
from analysis.seat_drop import seat_share
from ingest.errors import UsageError
from ingest.records import Bike, End, Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The bike on one side of the work: its file, its setup, and the sag check of that setup."""

    bike: Bike
    setup: Setup | None
    sag: SagCheck | None

    @property
    def now(self) -> Bike:
        """The bike under the setup."""
        return effective_bike(self.bike, self.setup)

    def end(self, end: End) -> EndSag | None:
        """Give the sag of one end."""
        if self.sag is None:
            return None
        return self.sag.front if end is End.FRONT else self.sag.rear

    def rider(self, end: End) -> Quantity | None:
        """Give the rider sag of one end."""
        found = self.end(end)
        return None if found is None else found.rider_sag_mm

    def unladen(self, end: End) -> Quantity | None:
        """Give the unladen sag of one end."""
        found = self.end(end)
        return None if found is None else found.unladen_sag_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What was done, as far as it was measured.

    ``option`` has the form of an option of a plan, with the measured sags in the place of promised ones; what
    cannot be told is ``None`` in it. ``seat_drop_mm`` is how much lower the rider sits, from sags and parts;
    ``full_bump_stayed`` names the ends whose full bump is where it was, ``moved_by_parts`` whether any part
    moved a wheel up or down in the bike. ``basis`` says for each end how it is
    known how far the parts moved the wheel, ``missing`` what is not known.
    """

    option: Option
    seat_drop_mm: Quantity | None
    sag_change_mm: Mapping[End, Quantity] = field(default_factory=dict)
    full_bump_stayed: tuple[End, ...] = ()
    moved_by_parts: bool = False
    basis: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def as_done(before: State, after: State, *, full_bump_stayed: Collection[End] = ()) -> Done:
    """Tell what the work did from the setups and sag checks on both sides of it.

    Parameters
    ----------
    before, after : State
    full_bump_stayed : collection of End
        Ends whose sensor shows that the travel was taken off at the topped-out end
        (`analysis.stop_stayed.full_bump_stayed`).
    """
    basis, missing = [], []
    ups: dict[End, Input] = {}
    for end in End:
        if before.now.suspension(end) is None:
            missing.append(f"the bike file has no [{end}]")
            continue
        up, said = _topped_up(before, after, end, stayed=end in full_bump_stayed)
        if up is None:
            missing.append(f"how far the {end} wheel was moved up in the bike is not known ({said})")
        else:
            ups[end] = up
            basis.append(f"{end}: {said}")
        for side, state in (("before", before), ("after", after)):
            if state.rider(end) is None:
                missing.append(f"{end} rider sag was not measured {side} the work")
    option = _option(before, after, ups)
    drop = _seat_drop(before, after, ups)
    bump_up = {End.FRONT: option.front.full_bump_up_mm, End.REAR: option.rear.full_bump_up_mm}
    return Done(
        option=replace(option, seat_drop_mm=drop),
        seat_drop_mm=drop,
        sag_change_mm={
            end: less(now, was)
            for end in End
            if (was := before.rider(end)) is not None and (now := after.rider(end)) is not None
        },
        full_bump_stayed=tuple(end for end, up in bump_up.items() if up is not None and abs(up) <= AGREES_MM),
        moved_by_parts=any(up.value != 0.0 for up in ups.values()),
        basis=tuple(basis),
        missing=tuple(missing),
    )


def less(now: Quantity, was: Quantity) -> Quantity:
    """Give one quantity less another; independent doubts add by their squares.

    >>> less(Quantity(value=70.0, expanded_uncertainty=3.0, coverage_factor=2.0),
    ...      Quantity(value=45.0, expanded_uncertainty=4.0, coverage_factor=2.0)).expanded_uncertainty
    5.0
    """
    return Quantity(
        value=now.value - was.value,
        expanded_uncertainty=math.hypot(now.expanded_uncertainty, was.expanded_uncertainty),
        coverage_factor=max(now.coverage_factor, was.coverage_factor),
    )


def _topped_up(before: State, after: State, end: End, *, stayed: bool) -> tuple[Input | None, str]:
    """Give how much further up in the bike the topped-out wheel is, along its travel, and how it is known."""
    was, now = before.now.suspension(end), after.now.suspension(end)
    if was is None or now is None:
        return None, "the bike file does not say"
    return moved_up(was, now, end, room_now_mm=_said_room_mm(after, end), stayed=stayed)


def _said_room_mm(after: State, end: End) -> float | None:
    """Give the room at full bump if the setup itself says it: that of the bike file was before the work."""
    return None if after.setup is None else after.setup.end(end).full_bump_room_mm


def _seat_drop(before: State, after: State, ups: Mapping[End, Input]) -> Quantity | None:
    bike = before.now
    inputs = {"seat": seat_share(bike)}
    for end in End:
        was, now = before.rider(end), after.rider(end)
        if end not in ups or was is None or now is None:
            return None
        inputs |= {
            f"{end} up": ups[end],
            f"{end} before": measured(was, "measured"),
            f"{end} after": measured(now, "measured"),
            f"{end} vertical": vertical_share(bike, end),
        }
    lowered = [0.0 if one.setup is None else one.setup.seat_lowering_mm or 0.0 for one in (before, after)]

    def drop(values: Mapping[str, float]) -> float:
        axles = {
            end: values[f"{end} vertical"]
            * (values[f"{end} up"] + values[f"{end} after"] - values[f"{end} before"])
            for end in End
        }
        share = values["seat"]
        return share * axles[End.FRONT] + (1.0 - share) * axles[End.REAR] + lowered[1] - lowered[0]

    return propagate(drop, inputs)[0]


def _option(before: State, after: State, ups: Mapping[End, Input]) -> Option:
    """Write what was done as an option, worked out as a plan works out its own."""
    ends = {end: _end_now(before, end) for end in End}
    fitting = {end: _fitted(after, end, ups.get(end)) for end in End}
    front, rear = (_end_as_done(ends[end], fitting[end], after.rider(end), end in ups) for end in End)
    way_back, reversible = _way_back(before, after)
    option = Option(
        name="as done", kind="as done", front=front, rear=rear, reversible=reversible, way_back=way_back
    )
    if len(ups) == len(End) and all(one.sag_mm is not None for one in fitting.values()):
        option = consequences(ground_of(before.now, ends), ends, fitting, option)
    stand = after.now.stands
    if stand is not None and stand.side_stand_length_mm != getattr(
        before.now.stands, "side_stand_length_mm", None
    ):
        option = replace(option, stand=replace(option.stand, side_stand_mm=stand.side_stand_length_mm))
    return replace(option, gives_up=gives_up(option))


def _end_now(before: State, end: End) -> EndNow:
    found, suspension = before.end(end), before.now.suspension(end)
    return EndNow(
        end=end,
        suspension=suspension,
        vertical=vertical_share(before.now, end).value,
        rider=before.rider(end),
        unladen=None if found is None else found.unladen_sag_mm,
        target_mm=None,
        room_mm=None if suspension is None else suspension.full_bump_room_mm,
    )


def _fitted(after: State, end: End, up: Input | None) -> Fitted:
    now = after.rider(end)
    return Fitted(
        means="as done",
        suspension=after.now.suspension(end),
        topped_up_mm=0.0 if up is None else up.value,
        topped_up_u_mm=0.0 if up is None else up.u,
        sag_mm=None if now is None else now.value,
        opened=True,
    )


def _end_as_done(now: EndNow, fitted: Fitted, sag: Quantity | None, known: bool) -> EndPlan:
    """Put numbers to one end; what depends on how far the parts moved the wheel only where that is known."""
    try:
        made = end_plan(now, fitted)
    except UsageError:
        made = EndPlan(means=fitted.means)
    travel = None if fitted.suspension is None else fitted.suspension.travel_mm
    made = replace(
        made,
        rider_sag_mm=sag,
        rider_sag_percent=None if sag is None or travel is None else 100.0 * sag.value / travel,
        travel_left_mm=None if sag is None or travel is None else travel - sag.value,
    )
    if known:
        return made
    return replace(
        made, axle_up_mm=None, drop_mm=None, parts_drop_mm=None, full_bump_up_mm=None, full_bump_room_mm=None
    )


def _way_back(before: State, after: State) -> tuple[str, bool]:
    """Say whether it can go back up: everything that was not cut can."""
    lengths = [
        (
            getattr(one.now.stands, "side_stand_length_mm", None),
            getattr(one.now.stands, "centre_stand_length_mm", None),
        )
        for one in (before, after)
    ]
    lowered = [None if one.setup is None else one.setup.seat_lowering_mm for one in (before, after)]
    cut = [
        name
        for name, changed in (
            ("the stand", lengths[0] != lengths[1]),
            ("the seat", (lowered[0] or 0.0) != (lowered[1] or 0.0)),
        )
        if changed
    ]
    parts = any(
        getattr(before.now.suspension(end), name, None) != getattr(after.now.suspension(end), name, None)
        for end in End
        for name in (*MOVES_THE_WHEEL, "spring_rate_n_mm")
        if name != "raised_in_clamps_mm"
    )
    back = "with the old parts" if parts else "by turning it back"
    return (f"{back}, all but {' and '.join(cut)}" if cut else back), not cut
