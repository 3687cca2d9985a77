"""One end in a plan: what sag, travel, leverage, spring and preload become with a part fitted."""

from __future__ import annotations

import math
from collections.abc import Mapping

from analysis.gum import rectangular
from analysis.means import EndNow, Fitted
from analysis.means_spring import carried_n, end_then, preload_needed_mm, rate_for_n_mm, told
from analysis.plan_results import EndPlan
from analysis.preload import (
    PRELOAD_HALF_MM,
    air_inputs,
    at_preload,
    end_with_preload,
    known_preload,
    preload_limits,
    unknown_air,
)
from analysis.propagation import Input, measured, propagate
from analysis.results import Quantity
from analysis.ride_results import EndRide
from analysis.spring_forecast import PRINTED_RATE_SHARE
from analysis.spring_statics import SpringEnd, total_rate_n_mm
from analysis.wheel_rate import rate_at

DEEP, FULL = 0.90, 0.98
"""Deepest moment of the recorded ride, carried over: under the first share of the travel no bottoming is to
be expected, from the second on it is (judgement; roads and pace differ more than this)."""

ROUGH_SHARE = 0.10
"""That carrying over is good to ± this share of the travel on the same road (see the truth table)."""

Values = Mapping[str, float]


def end_plan(now: EndNow, fitted: Fitted, ride: EndRide | None = None) -> EndPlan:
    """Put numbers to one end of an option.

    Parameters
    ----------
    now : EndNow
    fitted : Fitted
    ride : EndRide, optional
        What this end did on a recorded ride as it is now, for the bottoming to expect.
    """
    was, then = now.suspension, fitted.suspension
    up = fitted.axle_up_mm(now)
    sag = foretold_sag(now, fitted)
    deepest = _deepest(now, fitted, ride)
    bump_up = fitted.full_bump_up_mm(now)
    drop = None if up is None else now.vertical * up - fitted.radius_mm
    word, rate, preload = _spring(now, fitted)
    return EndPlan(
        means=fitted.means,
        amount_mm=fitted.amount_mm,
        axle_up_mm=up,
        drop_mm=drop,
        parts_drop_mm=now.vertical * fitted.parts_up_mm(now) - fitted.radius_mm,
        travel_now_mm=None if was is None else was.travel_mm,
        travel_mm=None if then is None else then.travel_mm,
        travel_doubt_mm=_travel_doubt(fitted),
        rider_sag_now_mm=None if now.rider is None else now.rider.value,
        rider_sag_mm=sag,
        rider_sag_percent=None if sag is None or then is None else 100.0 * sag.value / then.travel_mm,
        travel_left_now_mm=None if was is None or now.rider is None else was.travel_mm - now.rider.value,
        travel_left_mm=None if sag is None or then is None else then.travel_mm - sag.value,
        full_bump_up_mm=bump_up,
        full_bump_room_mm=None if now.room_mm is None or bump_up is None else now.room_mm - bump_up,
        leverage_now=_leverage(now, as_now(now)),
        leverage=_leverage(now, fitted),
        wheel_rate_now_n_mm=_wheel_rate(now, as_now(now)),
        wheel_rate_n_mm=_wheel_rate(now, fitted),
        spring_rate_n_mm=rate,
        preload_now_mm=None if was is None else was.preload_mm,
        preload_mm=preload,
        spring_word=word,
        deepest_expected_mm=deepest,
        deepest_doubt_mm=None if deepest is None or then is None else ROUGH_SHARE * then.travel_mm,
        bottoming_word=_bottoming(deepest, fitted),
    )


def as_now(now: EndNow) -> Fitted:
    """Give the end exactly as it is, sag included."""
    return Fitted(
        means="as it is",
        suspension=now.suspension,
        sag_mm=None if now.rider is None else now.rider.value,
    )


def foretold_sag(now: EndNow, fitted: Fitted) -> Quantity | None:
    """Foretell rider sag once the part is in and preload is set as planned, with its doubt.

    Where nothing is known of springs or leverage, preload is set by measuring, and the doubt is that of
    the sag measured now.
    """
    goal = fitted.sag_mm
    if goal is None or now.rider is None:
        return None
    needed, then = preload_needed_mm(now, fitted), end_then(now, fitted)
    if needed is None or then is None or now.suspension is None or not _moves(now):
        return Quantity(
            value=goal,
            expanded_uncertainty=now.rider.expanded_uncertainty,
            coverage_factor=now.rider.coverage_factor,
        )
    suspension, start, air = now.suspension, end_with_preload(now.suspension), unknown_air(now.suspension)
    preload_now = known_preload(suspension)
    same = math.isclose(then.rate_n_mm, start.rate_n_mm)
    inputs = {
        "sag now": measured(now.rider, "measured"),
        "preload now": preload_now,
        "rate now": _printed(start.rate_n_mm),
        "leverage": Input(value=1.0, u=fitted.ratio_u, basis="other plates"),
    } | air_inputs(air)
    if not same:
        inputs["rate then"] = _printed(then.rate_n_mm)
    if fitted.opened:
        inputs["preload then"] = Input(
            value=needed, u=rectangular(PRELOAD_HALF_MM), basis="as it will be set"
        )

    def sag(values: Values) -> float:
        before = at_preload(_rated(start, values["rate now"]), air, values, values["preload now"])
        preload = values.get("preload then", values["preload now"] + needed - preload_now.value)
        rated = _rated(then, values.get("rate then", values["rate now"]))
        after = at_preload(rated, air, values, preload)
        # A leverage larger by a factor makes the travel longer and the force of one stroke smaller by it.
        return values["leverage"] * after.sag_mm(before.force_n(values["sag now"]) * values["leverage"])

    return propagate(sag, inputs)[0]


def foretold_unladen_mm(now: EndNow, fitted: Fitted) -> float | None:
    """Foretell unladen sag likewise; without springs it keeps its share of the travel."""
    if now.unladen is None or now.suspension is None or fitted.suspension is None:
        return None
    needed, then = preload_needed_mm(now, fitted), end_then(now, fitted)
    if needed is None or then is None:
        return now.unladen.value * fitted.suspension.travel_mm / now.suspension.travel_mm
    load = end_with_preload(now.suspension).force_n(now.unladen.value)
    return then.with_spring(then.rate_n_mm, needed).sag_mm(load)


def under_load(now: EndNow, fitted: Fitted, times: float) -> float | None:
    """Give the travel under a number of times the load at rider sag.

    Without springs, in proportion to sag, which is deeper than a preloaded spring goes.
    """
    if fitted.sag_mm is None or fitted.suspension is None:
        return None
    needed, then, load = preload_needed_mm(now, fitted), end_then(now, fitted), carried_n(now)
    if needed is None or then is None or load is None:
        return min(fitted.sag_mm * times, fitted.suspension.travel_mm)
    return then.with_spring(then.rate_n_mm, needed).sag_mm(load * times)


def _moves(now: EndNow) -> bool:
    """Whether what the springs say is of use: the spring of now was not loose when sag was read."""
    return told(now.suspension) and (carried_n(now) or 0.0) > 0.0


def _rated(end: SpringEnd, rate_n_mm: float) -> SpringEnd:
    return end.with_spring(rate_n_mm, end.preload_mm)


def _printed(rate_n_mm: float) -> Input:
    return Input(value=rate_n_mm, u=PRINTED_RATE_SHARE * rate_n_mm, basis="as printed")


def _spring(now: EndNow, fitted: Fitted) -> tuple[str | None, float | None, Quantity | None]:
    """Give a word for the spring, the rate of one spring to fit, and the preload to set."""
    suspension = fitted.suspension
    needed, then = preload_needed_mm(now, fitted), end_then(now, fitted)
    if needed is None or then is None or suspension is None or now.suspension is None:
        return None, None if suspension is None else suspension.spring_rate_n_mm, None
    if now.suspension.preload_mm is None:
        return "cannot tell", suspension.spring_rate_n_mm, None
    low, high = preload_limits(suspension, then)
    if needed < low or needed > high:
        word = "too stiff" if needed < low else "too soft"
        return word, rate_for_n_mm(now, fitted.sag_mm or 0.0, fitted), None
    preload, _ = propagate(
        lambda values: _needed(now, fitted, then, values),
        {"sag": measured(now.rider, "measured"), "preload now": known_preload(now.suspension)}
        if now.rider is not None
        else {},
    )
    return "fits", suspension.spring_rate_n_mm, preload


def _needed(now: EndNow, fitted: Fitted, then: SpringEnd, values: Values) -> float:
    assert now.suspension is not None
    start = end_with_preload(now.suspension)
    load = start.with_spring(start.rate_n_mm, values["preload now"]).force_n(values["sag"])
    return then.preload_for_mm(fitted.sag_mm or 0.0, load)


def _leverage(now: EndNow, fitted: Fitted) -> float | None:
    suspension, then = fitted.suspension, end_then(now, fitted)
    if suspension is None or suspension.leverage is None or then is None or fitted.sag_mm is None:
        return None
    return 1.0 / then.ratio(fitted.sag_mm)


def _wheel_rate(now: EndNow, fitted: Fitted) -> float | None:
    """Give the wheel rate at rider sag, both terms, N/mm along the travel."""
    suspension, then, needed = fitted.suspension, end_then(now, fitted), preload_needed_mm(now, fitted)
    if suspension is None or then is None or needed is None or fitted.sag_mm is None:
        return None
    if total_rate_n_mm(suspension) is None:
        return None
    return rate_at(then.with_spring(then.rate_n_mm, needed), fitted.sag_mm).total_n_mm


def _travel_doubt(fitted: Fitted) -> float | None:
    """Give the ± of the travel: of the part, and of a leverage that was not measured."""
    if fitted.suspension is None:
        return None
    return 1.96 * math.hypot(fitted.topped_up_u_mm, fitted.ratio_u * fitted.suspension.travel_mm)


def _deepest(now: EndNow, fitted: Fitted, ride: EndRide | None) -> float | None:
    """Carry the deepest moment of a ride over: as far from ride position as it was."""
    if ride is None or fitted.sag_mm is None or now.rider is None:
        return None
    return ride.travel_used_mm + fitted.sag_mm - now.rider.value


def _bottoming(deepest: float | None, fitted: Fitted) -> str | None:
    if deepest is None or fitted.suspension is None:
        return None
    share = deepest / fitted.suspension.travel_mm
    return "not expected" if share < DEEP else "expected" if share >= FULL else "cannot tell"
