"""What a rider gives up with an option, and what speaks for and against it, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.how_much import WORTH_A_PART_MM
from analysis.plan_results import EndPlan, Option

WORTH_SAYING_MM = 0.5
WORTH_SAYING_DEG = 0.1
STEERS_MM = 1.5
"""A change of trail below this is not felt (judgement)."""


def gives_up(option: Option) -> tuple[str, ...]:
    """Say what the rider loses, in numbers."""
    said = []
    for name, end in (("front", option.front), ("rear", option.rear)):
        said += _travel(name, end)
    room = option.clearance
    said += _less("ground clearance at rider sag", room.belly_now_mm, room.belly_mm, "mm")
    said += _less(
        "ground clearance at full bump", room.belly_at_full_bump_now_mm, room.belly_at_full_bump_mm, "mm"
    )
    said += _less("lean to the first contact", room.lean_now_deg, room.lean_deg, "°", WORTH_SAYING_DEG)
    for name, end in (("front", option.front), ("rear", option.rear)):
        if end.full_bump_up_mm is not None and end.full_bump_up_mm > WORTH_SAYING_MM:
            left = "" if end.full_bump_room_mm is None else f", {end.full_bump_room_mm:.0f} mm left"
            said.append(f"{name}: {end.full_bump_up_mm:.0f} mm of the room at full bump{left}")
    return (*said, *_steering(option))


def for_and_against(option: Option, notes: Sequence[str]) -> tuple[str, ...]:
    """Say what to know before choosing it."""
    said = []
    short = option.falls_short_mm
    if short is not None and short > WORTH_A_PART_MM:
        said.append(f"falls short of what is wanted by {short:.0f} mm at the seat")
    elif short is not None and short < -WORTH_A_PART_MM:
        said.append(f"brings the seat down {-short:.0f} mm further than is wanted")
    for name, end in (("front", option.front), ("rear", option.rear)):
        said += _spring(name, end)
        said += _bottoming(name, end)
    return (*said, *notes)


def _steering(option: Option) -> list[str]:
    """Say what front and rear by different amounts do to the steering."""
    front, rear = option.front.parts_drop_mm, option.rear.parts_drop_mm
    if front is None or rear is None or abs(rear - front) < STEERS_MM:
        return []
    rake, trail = option.rake_from_parts_deg, option.trail_from_parts_mm
    lower = "rear" if rear > front else "front"
    said = f"the {lower} comes down {abs(rear - front):.0f} mm more than the other end"
    if rake is not None and trail is not None:
        said += f": rake {_signed(rake, 1)}°, trail {_signed(trail, 0)} mm from the parts"
    said += "; it steers slower" if lower == "rear" else "; it steers quicker and may get unsteady"
    if lower == "rear" and option.matching_front_mm is not None and rear > 0:
        said += f". Matching front drop: {option.matching_front_mm:.0f} mm along its travel"
    elif lower == "front" and rear < front:
        said += f". The rear would have to come down by {front - rear:.0f} mm to match"
    return [said]


def _travel(name: str, end: EndPlan) -> list[str]:
    said = []
    now, then = end.travel_left_now_mm, end.travel_left_mm
    if now is not None and then is not None and now - then > WORTH_SAYING_MM:
        said.append(f"{name}: compression travel left at ride position {now:.0f} → {then:.0f} mm")
    full, less = end.travel_now_mm, end.travel_mm
    if full is not None and less is not None and full - less > WORTH_SAYING_MM:
        said.append(f"{name}: travel {full:.0f} → {less:.0f} mm")
    return said


def _less(
    what: str, now: float | None, then: float | None, unit: str, worth: float = WORTH_SAYING_MM
) -> list[str]:
    if now is None or then is None or now - then <= worth:
        return []
    gap = "" if unit == "°" else " "
    return [f"{what} {now:.0f} → {then:.0f}{gap}{unit}"]


def _spring(name: str, end: EndPlan) -> list[str]:
    if end.spring_word not in ("too stiff", "too soft") or end.rider_sag_mm is None:
        return []
    way = "a softer" if end.spring_word == "too stiff" else "a stiffer"
    said = f"{name}: the spring of now is {end.spring_word} for {end.rider_sag_mm.value:.0f} mm of rider sag"
    if end.spring_rate_n_mm is not None and end.preload_now_mm is not None:
        about = f", about {end.spring_rate_n_mm:.1f} N/mm at {end.preload_now_mm:.0f} mm of preload"
        return [f"{said}: it takes {way} one{about}"]
    return [f"{said}: it takes {way} one"]


def _bottoming(name: str, end: EndPlan) -> list[str]:
    if end.bottoming_word is None or end.deepest_expected_mm is None or end.travel_mm is None:
        return []
    said = (
        f"{name}: on the recorded ride's road about {end.deepest_expected_mm:.0f} of {end.travel_mm:.0f} mm"
    )
    word = {
        "expected": "would be used, so bottoming is to be expected",
        "not expected": "would be used, no bottoming to be expected",
    }.get(end.bottoming_word, "would be used; whether it bottoms cannot be told")
    return [f"{said} {word} (rough)"]


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}".replace("-", "−")
