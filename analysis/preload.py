"""Preload: how far to turn it for correct sag, whether that can be done, and what unladen sag then says.

Preload moves the bike up and down on its springs and never changes their rate. At the same load a millimetre
at the collar moves the wheel by about the leverage in millimetres. The load is not needed: it is the same
before and after, and the sag that was measured says what it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from analysis.gum import rectangular
from analysis.propagation import Input, measured, propagate
from analysis.results import PreloadChange, Quantity
from analysis.spring_statics import FORK, Air, SpringEnd, air_of, spring_end, total_rate_n_mm
from analysis.targets import spring_word_for
from analysis.wheel_rate import rate_at
from ingest.records import Suspension

PRELOAD_HALF_MM = 1.0
"""A preload is two lengths by caliper or rule, one less the other: within ± this (judgement)."""
ASSUMED_PRELOAD_MM = 10.0
"""Middle of what preload may be where nobody measured it, and its half width (judgement)."""
ASSUMED_FORK_N_MM = 10.0
"""Rate of both fork springs where the file has none; it only sizes the doubt of unknown air (judgement)."""
USUAL_AIR = Air(area_mm2=3000.0, column_mm=350.0)
"""Air in a fork of which nothing is known: its whole effect is doubt (judgement)."""

Values = Mapping[str, float]
Band = tuple[float, float]


def preload_change(
    suspension: Suspension,
    unladen: Quantity | None,
    rider: Quantity,
    target_mm: Band,
    unladen_target_mm: Band | None,
) -> PreloadChange:
    """Give the preload change that puts rider sag in the middle of its target.

    Parameters
    ----------
    suspension : Suspension
        As it is under its setup. Preload, spring lengths, adjuster limits and thread pitch are used where
        known; what is not known is said in ``cautions``.
    unladen, rider : Quantity
        The sags measured, mm at the wheel; without the unladen one nothing is said about the spring.
    target_mm, unladen_target_mm : (float, float)
        Bands of rider sag, and of unladen sag once rider sag is right.

    Returns
    -------
    PreloadChange
        ``allowed`` is false where the spring would be loose with the wheel hanging, the coils would touch,
        or the adjuster does not go so far.
    """
    end = end_with_preload(suspension)
    goal_mm = (target_mm[0] + target_mm[1]) / 2
    air = unknown_air(suspension)
    now = known_preload(suspension)

    def change(values: Values) -> float:
        before = at_preload(end, air, values, values["preload now"])
        load_n = before.force_n(values["rider sag"])
        return before.preload_for_mm(goal_mm, load_n) - values["preload now"]

    inputs = {"rider sag": measured(rider, "measured"), "preload now": now} | air_inputs(air)
    wanted, _ = propagate(change, inputs)
    after = None if suspension.preload_mm is None else suspension.preload_mm + wanted.value
    refused = why_refused(suspension, end, after)
    unladen_after = None
    if unladen is not None:
        unladen_after, _ = propagate(
            _unladen_after(end, air, wanted.value),
            {"unladen sag": measured(unladen, "measured"), "preload now": now} | air_inputs(air),
        )
    word = _spring_word(refused, unladen_after, unladen_target_mm)
    limit = _nearest_allowed_mm(suspension, end, after) if refused else None
    return PreloadChange(
        change_mm=wanted,
        turns=None if suspension.thread_pitch_mm is None else wanted.value / suspension.thread_pitch_mm,
        one_leg_mm=2 * wanted.value if _two_legs(suspension) else None,
        sag_mm_per_mm=_sag_mm_per_mm(end, rider.value),
        preload_now_mm=suspension.preload_mm,
        preload_after_mm=after,
        unladen_after_mm=unladen_after,
        target_unladen_mm=unladen_target_mm,
        spring_word=word,
        allowed=not refused,
        refused_because=refused,
        rider_at_limit_mm=None
        if limit is None
        else end.with_spring(end.rate_n_mm, limit).sag_mm(end.force_n(rider.value)),
        cautions=_cautions(suspension),
    )


def end_with_preload(suspension: Suspension) -> SpringEnd:
    """Put an end together for questions in which its rate cancels, or only sizes the doubt of unknown air."""
    fallback = ASSUMED_FORK_N_MM if suspension.kind == FORK else 1.0
    return spring_end(suspension, total_rate_n_mm(suspension) or fallback, known_preload(suspension).value)


def known_preload(suspension: Suspension) -> Input:
    """Give the preload now with its doubt; assumed, and doubtful, where nobody measured it."""
    if suspension.preload_mm is None:
        return Input(value=ASSUMED_PRELOAD_MM, u=rectangular(ASSUMED_PRELOAD_MM), basis="assumed (judgement)")
    return Input(value=suspension.preload_mm, u=rectangular(PRELOAD_HALF_MM), basis="from the bike file")


def unknown_air(suspension: Suspension) -> Air | None:
    """Give the air a telescopic fork may have where the file says nothing of it."""
    return USUAL_AIR if suspension.kind == FORK and air_of(suspension) is None else None


def air_inputs(air: Air | None) -> dict[str, Input]:
    """Give the doubt of unknown air: left out, it may be all there, and which way it moves sag is open."""
    if air is None:
        return {}
    return {"air in the fork": Input(value=0.0, u=rectangular(1.0), basis="not in the bike file (judgement)")}


def at_preload(end: SpringEnd, air: Air | None, values: Values, preload_mm: float) -> SpringEnd:
    """Set preload and as much of the unknown air as ``values`` say."""
    share = values.get("air in the fork", 0.0)
    placed = end.with_spring(end.rate_n_mm, preload_mm)
    if air is None or share == 0.0:
        return placed
    return SpringEnd(
        travel_mm=placed.travel_mm,
        rate_n_mm=placed.rate_n_mm,
        preload_mm=preload_mm,
        linkage=placed.linkage,
        air=Air(area_mm2=share * air.area_mm2, column_mm=air.column_mm),
    )


def coil_bind_mm(suspension: Suspension, end: SpringEnd) -> float | None:
    """Give the preload at which the coils touch at full bump, ``None`` where the lengths are not known."""
    free, solid = suspension.spring_free_length_mm, suspension.spring_solid_length_mm
    if free is None or solid is None:
        return None
    return free - solid - end.stroke_mm(end.travel_mm)


def why_refused(suspension: Suspension, end: SpringEnd, preload_mm: float | None) -> tuple[str, ...]:
    """Say what forbids a preload; nothing where the preload now is not known."""
    if preload_mm is None:
        return ()
    reasons = []
    if preload_mm < 0:
        reasons.append(
            f"a preload of {preload_mm:.1f} mm leaves the spring loose with the wheel hanging".replace(
                "-", "−"
            )
        )
    elif suspension.preload_min_mm is not None and preload_mm < suspension.preload_min_mm:
        reasons.append(f"the adjuster ends at {suspension.preload_min_mm:g} mm")
    if suspension.preload_max_mm is not None and preload_mm > suspension.preload_max_mm:
        reasons.append(f"the adjuster ends at {suspension.preload_max_mm:g} mm")
    bound = coil_bind_mm(suspension, end)
    if bound is not None and preload_mm > bound:
        reasons.append(f"over {max(bound, 0.0):.1f} mm the coils touch before full bump")
    return tuple(reasons)


def preload_limits(suspension: Suspension, end: SpringEnd, *, same_spring: bool = True) -> Band:
    """Give least and most preload allowed; without limits in the file, from just not loose to anything."""
    bound = coil_bind_mm(suspension, end) if same_spring else None
    highest = min(
        math.inf if bound is None else max(bound, 0.0),
        math.inf if suspension.preload_max_mm is None else suspension.preload_max_mm,
    )
    return min(suspension.preload_min_mm or 0.0, highest), highest


def _nearest_allowed_mm(suspension: Suspension, end: SpringEnd, preload_mm: float | None) -> float | None:
    if preload_mm is None:
        return None
    low, high = preload_limits(suspension, end)
    return min(max(preload_mm, low), high)


def _unladen_after(end: SpringEnd, air: Air | None, change_mm: float) -> Callable[[Values], float]:
    """Give the unladen sag once the collar was turned by so many mm, as a function of the inputs."""

    def unladen(values: Values) -> float:
        now = values["preload now"]
        load_n = at_preload(end, air, values, now).force_n(values["unladen sag"])
        return at_preload(end, air, values, now + change_mm).sag_mm(load_n)

    return unladen


def _sag_mm_per_mm(end: SpringEnd, travel_mm: float) -> float:
    """Give how far the wheel moves for a millimetre at the collar: the leverage, but for the force term."""
    return end.rate_n_mm * end.ratio(travel_mm) / rate_at(end, travel_mm).total_n_mm


def _spring_word(refused: Sequence[str], unladen: Quantity | None, band_mm: Band | None) -> str:
    if any("loose" in reason for reason in refused):
        return "too stiff"
    if any("coils touch" in reason for reason in refused):
        return "too soft"
    if unladen is None or band_mm is None:
        return "cannot tell"
    return spring_word_for(unladen.value, unladen.expanded_uncertainty, band_mm)


def _two_legs(suspension: Suspension) -> bool:
    return suspension.kind == FORK and suspension.springs in (None, 2)


def _cautions(suspension: Suspension) -> tuple[str, ...]:
    cautions = []
    if suspension.preload_mm is None:
        cautions.append(
            "preload now is not known, so a loose spring or touching coils cannot be ruled out: measure the "
            "spring with the wheel hanging, take that from its free length, and write preload_mm"
        )
    elif suspension.spring_free_length_mm is None or suspension.spring_solid_length_mm is None:
        cautions.append(
            "the spring's free and solid lengths are not in the bike file: check that the coils do not touch "
            "at full bump"
        )
    if unknown_air(suspension) is not None:
        cautions.append("the air above the fork oil is not in the bike file and counts as doubt")
    return tuple(cautions)
