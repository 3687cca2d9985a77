"""How much a lowering may cost: what is refused, and what is allowed but has to be said plainly.

Only what an option makes worse counts: a bike that leans little as it is keeps its ways. The figures for lean
and ground clearance are common practice, no source: what road and gravel ask of a bike that is still ridden.
"""

from __future__ import annotations

from collections.abc import Iterator

from analysis.plan_results import EndPlan, Option

LOW_LEAN_DEG, LEAST_LEAN_DEG = 30.0, 20.0
"""Lean to the first contact: less than the first is said, less than the second is refused."""
LOW_BELLY_MM, LEAST_BELLY_MM = 150.0, 100.0
"""Ground clearance with the rider aboard, likewise."""
MOST_OF_TRAVEL = 1.2
"""Asked for by the recorded road, in travels: beyond it bottoming is the rule. Twice the ± of carrying a ride
over (`plan_ends.ROUGH_SHARE`; judgement)."""
WORSE_MM, WORSE_DEG = 0.5, 0.1
PRACTICE = "(common practice, no source)"


def too_much(option: Option) -> tuple[str, ...]:
    """Say what an option costs beyond what is done at all."""
    return (*_bottoms_at_best(option), *_lean(option, LEAST_LEAN_DEG), *_belly(option, LEAST_BELLY_MM))


def mind(option: Option) -> tuple[str, ...]:
    """Say what an allowed option costs beyond what is usual."""
    bottoms = (
        f"{name}: bottoming is to be expected on a road like the recorded one"
        for name, end in _ends(option)
        if end.bottoming_word == "expected"
    )
    return (*bottoms, *_lean(option, LOW_LEAN_DEG), *_belly(option, LOW_BELLY_MM))


def _ends(option: Option) -> tuple[tuple[str, EndPlan], ...]:
    return (("front", option.front), ("rear", option.rear))


def _bottoms_at_best(option: Option) -> Iterator[str]:
    """Refuse where the deepest moment carried over lies so far beyond the travel that no doubt is left."""
    for name, end in _ends(option):
        deepest, travel = end.deepest_expected_mm, end.travel_mm
        if deepest is not None and travel is not None and deepest > MOST_OF_TRAVEL * travel:
            yield (
                f"{name}: the recorded ride's road asks for about {deepest:.0f} mm where {travel:.0f} mm "
                f"would be left, more than {MOST_OF_TRAVEL:g} times the travel: it would bottom as a rule"
            )


def _lean(option: Option, least_deg: float) -> Iterator[str]:
    room = option.clearance
    if room.lean_deg is None or room.lean_now_deg is None or room.lean_now_deg - room.lean_deg < WORSE_DEG:
        return
    if room.lean_deg < least_deg:
        by = "" if room.lean_by is None else f": the {room.lean_by} touches"
        yield (
            f"lean to the first contact {room.lean_now_deg:.0f} → {room.lean_deg:.0f}°{by}; under "
            f"{least_deg:g}° is too little {PRACTICE}"
        )


def _belly(option: Option, least_mm: float) -> Iterator[str]:
    """Judge clearance at rider sag, and the ground at full bump, which is no matter of practice."""
    room = option.clearance
    now, then = room.belly_now_mm, room.belly_mm
    if now is not None and then is not None and now - then > WORSE_MM and then < least_mm:
        yield (
            f"ground clearance at rider sag {now:.0f} → {then:.0f} mm; under {least_mm:g} mm is too little "
            f"{PRACTICE}"
        )
    now, then = room.belly_at_full_bump_now_mm, room.belly_at_full_bump_mm
    if now is not None and then is not None and now - then > WORSE_MM and then <= 0.0:
        yield f"the belly meets the ground {-then:.0f} mm before full bump"
