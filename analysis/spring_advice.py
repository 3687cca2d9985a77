"""Sentences about preload, spring and seat that follow from a sag check."""

from __future__ import annotations

from analysis.results import EndSag, MeasuredRate, PreloadChange, Quantity
from analysis.targets import spring_word_for
from ingest.records import End

WORTH_TURNING_MM = 0.5


def preload_sentences(end: End, found: EndSag) -> list[str]:
    """Say how to turn preload where sag is off, and what unladen sag then says of the spring."""
    change = found.preload
    if change is None:
        return []
    name = str(end).capitalize()
    if found.word == "right":
        return _spring_now(name, found.unladen_sag_mm, change.target_unladen_mm)
    if found.word == "cannot tell":
        return []
    said = [_turn(name, change) if change.allowed else _refused(name, change)]
    if change.allowed and change.preload_now_mm is None:
        said.append(
            f"{name}: preload now is not in the bike file; measure it before turning, the spring must not be "
            "loose with the wheel hanging."
        )
    if change.allowed and change.unladen_after_mm is not None and change.target_unladen_mm is not None:
        said.append(_spring_then(name, change, change.unladen_after_mm, change.target_unladen_mm))
    return said


def rate_sentences(end: End, rate: MeasuredRate | None) -> list[str]:
    """Say so where the wheel rate measured is not the one to expect from the bike file."""
    if rate is None or rate.secant_n_mm is None or rate.expected_n_mm is None:
        return []
    if rate.word not in ("softer than expected", "stiffer than expected"):
        return []
    return [
        f"{str(end).capitalize()}: the wheel rate between both sags, a secant, is "
        f"{rate.secant_n_mm.value:.1f} ± {rate.secant_n_mm.expanded_uncertainty:.1f} N/mm, {rate.word} from "
        f"the bike file ({rate.expected_n_mm:.1f} N/mm): check which spring is in it, and the leverage."
    ]


def rate_caution(end: End, rate: MeasuredRate | None) -> str | None:
    """Say what keeps the wheel rate from being told, and what would tell it."""
    if rate is None or rate.word != "cannot tell":
        return None
    return (
        f"{end}: the wheel rate cannot be told from this check, mostly because of the {rate.dominates}; "
        f"{rate.would_tell}"
    )


def seat_sentence(drop: Quantity | None) -> str | None:
    """Say what correct sag alone does to the seat."""
    if drop is None or abs(drop.value) <= drop.expanded_uncertainty:
        return None
    way = "lower" if drop.value > 0 else "higher"
    return (
        f"At correct sag, front and rear, the seat would be {abs(drop.value):.0f} ± "
        f"{drop.expanded_uncertainty:.0f} mm {way}, before any hardware."
    )


def _turn(name: str, change: PreloadChange) -> str:
    size, doubt = abs(change.change_mm.value), change.change_mm.expanded_uncertainty
    if size < WORTH_TURNING_MM:
        return f"{name}: preload is within {WORTH_TURNING_MM} mm of what brings rider sag to its target."
    what = "add" if change.change_mm.value > 0 else "take off"
    turns = "" if change.turns is None else f", {abs(change.turns):.1f} turns"
    legs = "" if change.one_leg_mm is None else ", both legs alike (one leg alone counts half)"
    return (
        f"{name}: {what} {size:.1f} ± {doubt:.1f} mm of preload{turns}{legs} to bring rider sag to the "
        f"middle of its target; a millimetre moves the wheel {change.sag_mm_per_mm:.1f} mm."
    )


def _refused(name: str, change: PreloadChange) -> str:
    comes = (
        ""
        if change.rider_at_limit_mm is None
        else f" As far as it may go, rider sag comes to {change.rider_at_limit_mm:.0f} mm."
    )
    spring = f" The spring is {change.spring_word}." if change.spring_word.startswith("too") else ""
    return f"{name}: preload alone cannot do it: {'; '.join(change.refused_because)}.{comes}{spring}"


def _spring_then(name: str, change: PreloadChange, unladen: Quantity, target_mm: tuple[float, float]) -> str:
    low, high = target_mm
    verdict = (
        "this cannot tell whether the spring fits"
        if change.spring_word == "cannot tell"
        else f"the spring {_is(change.spring_word)}"
    )
    return (
        f"{name}: unladen sag would then be {unladen.value:.0f} ± {unladen.expanded_uncertainty:.0f} mm, "
        f"target {low:.0f}–{high:.0f} mm: {verdict}."
    )


def _spring_now(name: str, unladen: Quantity | None, target_mm: tuple[float, float] | None) -> list[str]:
    """Say so where rider sag is right and unladen sag shows that the spring is not."""
    if unladen is None or target_mm is None:
        return []
    word = spring_word_for(unladen.value, unladen.expanded_uncertainty, target_mm)
    if not word.startswith("too"):
        return []
    return [
        f"{name}: unladen sag {unladen.value:.1f} ± {unladen.expanded_uncertainty:.1f} mm, target "
        f"{target_mm[0]:.0f}–{target_mm[1]:.0f} mm: the spring is {word}, and preload cannot change that."
    ]


def _is(word: str) -> str:
    return word if word == "fits" else f"is {word}"
