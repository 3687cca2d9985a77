"""Lowering at a telescopic fork: tubes raised in the clamps, spacers inside with shorter springs, or both."""

from __future__ import annotations

from dataclasses import replace

from analysis.means import EndNow, Fitted, is_fork, room_notes, room_reasons, travel_reasons, usable_room_mm

NO_FORK = "front: it has no telescopic fork, so there are no fork tubes to raise and no spacers to fit"


def raised(now: EndNow, amount_mm: float) -> Fitted:
    """Raise the tubes in the clamps: the whole travel moves up, along the fork axis.

    >>> from ingest.records import End, Suspension
    >>> fork = Suspension(kind="telescopic fork", travel_mm=175)
    >>> now = EndNow(end=End.FRONT, suspension=fork, vertical=0.9, rider=None, unladen=None, target_mm=None,
    ...              room_mm=5.0)
    >>> raised(now, 5.0).refused[0]
    'front: 5 mm further up at full bump where 5 mm of room is left: keep 10 to 15 mm, so nothing may be used'
    """
    suspension = now.suspension
    moved = None
    if suspension is not None:
        moved = replace(
            suspension,
            raised_in_clamps_mm=(suspension.raised_in_clamps_mm or 0.0) + amount_mm,
        )
    return Fitted(
        means=f"fork tubes raised {amount_mm:.0f} mm",
        suspension=moved,
        amount_mm=amount_mm,
        topped_up_mm=amount_mm,
        topped_up_u_mm=0.5,
        sag_mm=now.goal_mm,
        refused=(*raise_reasons(now, amount_mm), *room_reasons(now, amount_mm)),
        notes=(
            *room_notes(now, amount_mm),
            "front: clamp on the parallel part of the tubes only, to the maker's torque, both sides alike; "
            "then check full bump, lock to lock, before the first ride",
            *_parallel_note(now),
        ),
    )


def raise_reasons(now: EndNow, amount_mm: float) -> tuple[str, ...]:
    """Say what forbids a raise apart from the room at full bump."""
    if not is_fork(now):
        return (NO_FORK,)
    parallel = None if now.suspension is None else now.suspension.clamp_parallel_mm
    if parallel is not None and amount_mm > parallel:
        return (
            f"front: the clamps grip only on the parallel part of the tubes: {parallel:.0f} mm at the most",
        )
    return ()


def raise_limit_mm(now: EndNow) -> float | None:
    """Give how far the tubes may go up: room at full bump less the margin, and the parallel part of the tube.

    ``None`` where the room was not measured.
    """
    room = usable_room_mm(now)
    if room is None or not is_fork(now):
        return None
    parallel = None if now.suspension is None else now.suspension.clamp_parallel_mm
    return room if parallel is None else min(room, parallel)


def spacer(now: EndNow, length_mm: float) -> Fitted:
    """Put spacers in the legs that keep the fork from extending, with springs shorter by as much.

    The travel loses the spacer, full bump stays where it is. Sag stays at the same share of the travel, so
    the bike comes down by spacer × (1 − share). The air above the oil is the same at full bump.
    """
    suspension = now.suspension
    if suspension is None or not is_fork(now):
        return Fitted(means="fork spacers", suspension=suspension, refused=(_no_spacer(now),))
    share = now.share
    travel = suspension.travel_mm - length_mm
    column = suspension.air_column_mm
    shorter = replace(
        suspension,
        travel_mm=travel,
        fork_spacer_mm=(suspension.fork_spacer_mm or 0.0) + length_mm,
        air_column_mm=None if column is None else column - length_mm,
        spring_free_length_mm=None,
        spring_solid_length_mm=None,
    )
    fitted = Fitted(
        means=f"fork spacers of {length_mm:.0f} mm with shorter springs",
        suspension=shorter,
        amount_mm=length_mm,
        topped_up_mm=length_mm,
        topped_up_u_mm=0.5,
        sag_mm=None if share is None else share * travel,
        opened=True,
        notes=(
            f"front: springs shorter by the {length_mm:.0f} mm of the spacers, else the spacers wind the "
            "preload up by as much",
        ),
    )
    return fitted.refuse(*travel_reasons(now, fitted))


def spacer_for_mm(now: EndNow, drop_mm: float) -> float | None:
    """Give the spacer that brings the front down by so much along the fork at ride position."""
    share = now.share
    return None if share is None else drop_mm / (1.0 - share)


def raised_and_spacer(now: EndNow, raise_mm: float, length_mm: float) -> Fitted:
    """Raise the tubes as far as they may go, and put spacers in for the rest."""
    up, inside = raised(now, raise_mm), spacer(now, length_mm)
    suspension = inside.suspension
    if suspension is not None and up.suspension is not None:
        suspension = replace(suspension, raised_in_clamps_mm=up.suspension.raised_in_clamps_mm)
    return replace(
        inside,
        means=f"{up.means}, and {inside.means}",
        suspension=suspension,
        amount_mm=raise_mm,
        topped_up_mm=up.topped_up_mm + inside.topped_up_mm,
        refused=(*up.refused, *inside.refused),
        notes=(*up.notes, *inside.notes),
    )


def _no_spacer(now: EndNow) -> str:
    return (
        NO_FORK if not is_fork(now) else "front: the bike file has no [front]: add suspension and travel_mm"
    )


def _parallel_note(now: EndNow) -> tuple[str, ...]:
    if now.suspension is not None and now.suspension.clamp_parallel_mm is not None:
        return ()
    return (
        "front: how far the tubes are parallel above the clamps was not measured (clamp_parallel_mm): look "
        "before raising",
    )
