"""The list to tick before the bike goes back to its rider, with the figures of the option carried out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.plan_results import Option
from dashboard import units as show
from dashboard.units import Units

CUT_LAST = "Stands are cut only when the rider has ridden the bike and approved the height."
CHANGED_MM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """One line with a box: what is checked, and what it should be where a figure is known."""

    what: str
    should_be: str | None = None


def hand_over(option: Option, units: Units = Units.MM, figures: str = "planned") -> tuple[Tick, ...]:
    """List what is checked before the first ride, in the order of the work.

    ``figures`` says what those of the option are: planned, or measured after the work.
    """
    return tuple(_ticks(option, units, figures))


def _ticks(option: Option, units: Units, figures: str) -> Iterator[Tick]:
    yield Tick(
        what="Full bump, before the first ride: bike strapped down or springs out, turned from lock to lock; "
        "tyre, mudguard, clamps and hoses touch nothing.",
        should_be=_both(
            f"room {figures}:", option.front.full_bump_room_mm, option.rear.full_bump_room_mm, units
        ),
    )
    yield Tick(
        what="Clamp bolts, axles and every bolt that was undone: tightened to the manual's torque; fork "
        "tubes clamped on their parallel part only.",
        should_be=_raised(option),
    )
    slack = option.chain_slack_mm
    yield Tick(
        what="Chain slack at its tightest (sprocket, swingarm pivot and axle in one line): some is left.",
        should_be=None if slack is None else f"set {show.length(slack, units, 0)} parked, nobody aboard",
    )
    yield Tick(
        what="Brake hoses, clutch and sensor cables: free from full extension to full bump, lock to lock; "
        "none is pulled, pinched or near a tyre.",
    )
    yield Tick(what="Headlight: set again on the wall, rider aboard.", should_be=_beam(option, units))
    yield Tick(
        what="Side stand on level ground: the bike leans on it well, and cannot be rocked over it. "
        + CUT_LAST,
        should_be=_stand(option.stand.side_stand_now_mm, option.stand.side_stand_mm, units),
    )
    if option.stand.centre_stand_now_mm is not None:
        yield Tick(
            what="Centre stand: the bike goes up on it without help.",
            should_be=_stand(option.stand.centre_stand_now_mm, option.stand.centre_stand_mm, units),
        )
    yield Tick(what="Stand switch: stops the engine with the stand out and a gear in, and only then.")
    front, rear = option.front.rider_sag_mm, option.rear.rider_sag_mm
    yield Tick(
        what="Sag measured again with the rider aboard, feet on the pegs.",
        should_be=_both(
            f"rider sag {figures}:",
            None if front is None else front.value,
            None if rear is None else rear.value,
            units,
        ),
    )
    yield Tick(
        what="Rider told what was given up: " + (_given_up(option) or "nothing that was measured") + "."
    )
    if option.reversible:
        yield Tick(what=f"Old parts labelled and kept. The way back: {option.way_back or 'as it was'}.")


def _both(what: str, front_mm: float | None, rear_mm: float | None, units: Units) -> str | None:
    parts = [
        f"{name} {show.length(value, units, 0)}"
        for name, value in (("front", front_mm), ("rear", rear_mm))
        if value is not None
    ]
    return f"{what} {', '.join(parts)}" if parts else None


def _raised(option: Option) -> str | None:
    means = option.front.means
    return f"{means}, both sides alike" if "tubes raised" in means else None


def _beam(option: Option, units: Units) -> str | None:
    drop = option.headlight_drop_at_wall_mm
    if drop is None or abs(drop) < CHANGED_MM:
        return None
    way = "lower" if drop > 0 else "higher"
    return f"the beam meets the wall {show.length(abs(drop), units, 0)} {way} than before"


def _stand(now_mm: float | None, then_mm: float | None, units: Units) -> str | None:
    if now_mm is None or then_mm is None:
        return None
    if abs(now_mm - then_mm) < CHANGED_MM:
        return f"stays {show.length(now_mm, units, 0)}"
    return f"{show.length_number(now_mm, units, 0)} → {show.length(then_mm, units, 0)}"


def _given_up(option: Option) -> str:
    return "; ".join(text.rstrip(".") for text in option.gives_up)
