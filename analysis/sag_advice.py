"""What a good shop says to a sag check: one sentence an end, what to do first, and the safety line."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.results import EndSag, Quantity
from analysis.sag_beside import beside_sentences
from analysis.spring_advice import preload_sentences, rate_sentences, seat_sentence
from ingest.records import End

SAFETY = (
    "Springs and gas-charged dampers store energy: leave them to a qualified technician, "
    "and support the bike so that it cannot fall."
)


def advice_for(ends: Mapping[End, EndSag], seat_drop: Quantity | None = None) -> tuple[str, ...]:
    """Give complete sentences in the order they matter: each end, then what it means, then safety.

    ``seat_drop`` is how much lower the seat would be at correct sag, mm.
    """
    said, work = [], False
    for end, found in ends.items():
        springs = preload_sentences(end, found)
        said += [
            *_about(end, found),
            *beside_sentences(end, found),
            *springs,
            *rate_sentences(end, found.wheel_rate),
        ]
        work = work or bool(springs)
    words = {found.word for found in ends.values()}
    if words & {"too little", "too much"}:
        seat = seat_sentence(seat_drop)
        said += [] if seat is None else [seat]
        said.append(
            "Correct the sag before choosing any lowering part: it changes how much is left to lower."
        )
    if work or words & {"too little", "too much"}:
        said.append(SAFETY)
    return tuple(said)


def _about(end: End, found: EndSag) -> list[str]:
    name = str(end).capitalize()
    rider, target = found.rider_sag_mm, found.target_sag_mm
    if rider is None:
        if found.unladen_sag_mm is None:
            return []
        return [
            f"{name}: unladen sag {_reading(found.unladen_sag_mm, found.unladen_sag_percent)}. "
            "Read it again with the rider aboard to know whether the sag is right."
        ]
    reading = f"{name}: rider sag {_reading(rider, found.rider_sag_percent)}"
    if target is None:
        return [f"{reading}. No target is known for this bike, so there is no word for it."]
    low, high = target
    first = f"{reading}, target {low:.0f}–{high:.0f} mm: {found.word}."
    middle = (low + high) / 2
    if found.word == "too little":
        return [
            f"{first} The bike sits high.",
            f"{name}: at correct sag the axle would sit {middle - rider.value:.0f} mm deeper before any "
            "lowering part.",
        ]
    if found.word == "too much":
        return [
            f"{first} The bike sits low.",
            f"{name}: correct sag would bring this end up by {rider.value - middle:.0f} mm; "
            "do not take that for lowering.",
        ]
    if found.word == "right":
        return [first]
    return [f"{first} {_what_would_tell(rider, target, found.friction_band_mm)}"]


def _reading(sag: Quantity, percent: float | None) -> str:
    share = "" if percent is None else f" ({percent:.0f} %)"
    return f"{sag.value:.1f} ± {sag.expanded_uncertainty:.1f} mm{share}"


def _what_would_tell(rider: Quantity, target: tuple[float, float], band_mm: float | None) -> str:
    low, high = target
    if 2 * rider.expanded_uncertainty > high - low:
        why = "The doubt is wider than the target itself"
    else:
        why = "The doubt reaches across the edge of the target"
    if band_mm is None:
        return f"{why}: read the rider from above and from below."
    return f"{why}: three repeats from above and from below would narrow it."
