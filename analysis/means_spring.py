"""What springs and preload do: correct sag by the collar or by another spring, and lowering springs.

A lowering spring lets the bike sit deeper in the travel it has. It is cheap and leaves the parts closed, but
what it gives at the seat is missing as compression travel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from analysis.means import EndNow, Fitted, travel_reasons
from analysis.preload import coil_bind_mm, end_with_preload, known_preload, preload_limits, why_refused
from analysis.spring_statics import FORK, SpringEnd, spring_end, total_rate_n_mm
from ingest.records import Suspension

DEEPEST_SAG_SHARE = 0.45
"""A lowering spring that sits deeper than this is refused (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringAtHand:
    """A spring one could fit: rate of one, and its lengths free and pressed solid where known."""

    rate_n_mm: float
    free_length_mm: float | None = None
    solid_length_mm: float | None = None


def told(suspension: Suspension | None) -> bool:
    """Whether anything can be told of springs here: a fork, or a leverage that was measured."""
    return suspension is not None and (suspension.kind == FORK or suspension.leverage is not None)


def carried_n(now: EndNow) -> float | None:
    """Give what this end carries with the rider aboard, N along the travel, by the spring that is in now."""
    if now.suspension is None or now.rider is None or not told(now.suspension):
        return None
    return end_with_preload(now.suspension).force_n(now.rider.value)


def end_then(now: EndNow, fitted: Fitted) -> SpringEnd | None:
    """Put the end together as it is with the part fitted; the spring of now where it says nothing else."""
    if fitted.suspension is None or now.suspension is None or not told(fitted.suspension):
        return None
    rate = total_rate_n_mm(fitted.suspension) or end_with_preload(now.suspension).rate_n_mm
    return spring_end(fitted.suspension, rate, known_preload(now.suspension).value)


def preload_needed_mm(now: EndNow, fitted: Fitted) -> float | None:
    """Give the preload that puts rider sag where it is to be, with the part fitted."""
    load, then = carried_n(now), end_then(now, fitted)
    if load is None or then is None or fitted.sag_mm is None:
        return None
    return then.preload_for_mm(fitted.sag_mm, load)


def coil_reasons(now: EndNow, fitted: Fitted) -> tuple[str, ...]:
    """Say whether the coils would touch before full bump at the preload that is needed."""
    needed, then = preload_needed_mm(now, fitted), end_then(now, fitted)
    if needed is None or then is None or fitted.suspension is None or now.suspension is None:
        return ()
    bound = coil_bind_mm(fitted.suspension, then)
    if now.suspension.preload_mm is None or bound is None or needed <= bound:
        return ()
    return (
        f"{now.end}: over {max(bound, 0.0):.1f} mm of preload the coils touch before full bump, and it needs "
        f"{needed:.1f} mm",
    )


def by_preload(now: EndNow) -> Fitted:
    """Bring sag to its target with the collar; refused where that is out of its reach."""
    fitted = Fitted(means="preload", suspension=now.suspension, sag_mm=now.goal_mm)
    if now.rider is None or now.goal_mm is None or now.suspension is None:
        return fitted
    needed = preload_needed_mm(now, fitted)
    if needed is None or now.suspension.preload_mm is None:
        return replace(fitted, notes=(_unknown_preload(now),))
    fitted = replace(fitted, amount_mm=needed - now.suspension.preload_mm)
    reasons = why_refused(now.suspension, end_with_preload(now.suspension), needed)
    return fitted.refuse(*(f"{now.end}: {reason}" for reason in reasons))


def by_spring(now: EndNow, spring: SpringAtHand | None = None) -> Fitted:
    """Bring sag to its target with another spring: one at hand, or the rate that suits the preload of now."""
    return _with_spring(now, spring, now.goal_mm, "spring")


def lowering_spring(now: EndNow, drop_mm: float, spring: SpringAtHand | None = None) -> Fitted:
    """Let the end sit deeper in its travel than is right, by ``drop_mm`` along the travel."""
    sag = None if now.goal_mm is None else now.goal_mm + drop_mm
    fitted = _with_spring(now, spring, sag, "lowering spring")
    if now.suspension is not None and sag is not None:
        fitted = replace(
            fitted,
            notes=(
                *fitted.notes,
                f"{now.end}: runs deep: {max(now.suspension.travel_mm - sag, 0.0):.0f} mm of compression "
                "travel left at ride position",
            ),
        )
    return fitted.refuse(*travel_reasons(now, fitted), *_too_deep(now, fitted))


def _too_deep(now: EndNow, fitted: Fitted) -> tuple[str, ...]:
    """Say whether the end would sit deeper in its travel than any bike should."""
    if now.suspension is None or fitted.sag_mm is None:
        return ()
    share = fitted.sag_mm / now.suspension.travel_mm
    if share <= DEEPEST_SAG_SHARE:
        return ()
    return (
        f"{now.end}: it would sit {100 * share:.1f} % deep in its travel with the rider aboard; more than "
        f"{100 * DEEPEST_SAG_SHARE:.0f} % leaves too little for the road",
    )


def rate_for_n_mm(now: EndNow, sag_mm: float, fitted: Fitted | None = None) -> float | None:
    """Give the rate of one spring that carries the load at a sag with the preload of now, a part fitted."""
    load, suspension = carried_n(now), now.suspension
    if load is None or suspension is None or total_rate_n_mm(suspension) is None:
        return None
    end = (None if fitted is None else end_then(now, fitted)) or end_with_preload(suspension)
    air = 0.0 if end.air is None else end.air.force_n(end.stroke_mm(sag_mm))
    squeezed = known_preload(suspension).value + end.stroke_mm(sag_mm)
    return (load / end.ratio(sag_mm) - air) / squeezed / (suspension.springs or 1)


def _with_spring(now: EndNow, spring: SpringAtHand | None, sag_mm: float | None, word: str) -> Fitted:
    suspension = now.suspension
    if suspension is None or sag_mm is None:
        return Fitted(means=word, suspension=suspension, sag_mm=sag_mm, opened=True)
    rate = rate_for_n_mm(now, sag_mm) if spring is None else spring.rate_n_mm
    other = replace(
        suspension,
        spring_rate_n_mm=rate,
        spring_free_length_mm=None if spring is None else spring.free_length_mm,
        spring_solid_length_mm=None if spring is None else spring.solid_length_mm,
    )
    fitted = Fitted(
        means=word if rate is None else f"{word} of {rate:.1f} N/mm",
        suspension=other,
        sag_mm=sag_mm,
        opened=True,
        notes=_room_for_coils(now, other),
    )
    needed = preload_needed_mm(now, fitted)
    if spring is None or needed is None:
        return fitted
    end = end_with_preload(other)
    low, high = preload_limits(other, end)
    reasons = why_refused(other, end, needed)
    bound = coil_bind_mm(other, end)
    if bound is not None and bound < low:
        reasons = (f"the coils touch {low - bound:.0f} mm before full bump, whatever the preload",)
    elif not reasons and not low <= needed <= high:
        reasons = (f"it would need {needed:.1f} mm of preload",)
    return fitted.refuse(*(f"{now.end}: {reason}" for reason in reasons))


def _room_for_coils(now: EndNow, other: Suspension) -> tuple[str, ...]:
    """Say how much a spring has to give before its coils touch, where its lengths are not known."""
    if not told(other) or other.spring_free_length_mm is not None:
        return ()
    end = end_with_preload(other)
    needs = max(known_preload(now.suspension or other).value, 0.0) + end.stroke_mm(end.travel_mm)
    return (
        f"{now.end}: take a spring that gives at least {needs:.0f} mm from free to solid, or its coils touch "
        "before full bump",
    )


def _unknown_preload(now: EndNow) -> str:
    return (
        f"{now.end}: whether the collar reaches that far is not known: measure the spring with the wheel "
        "hanging, take that from its free length, and write preload_mm"
    )
