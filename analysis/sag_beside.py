"""Rolling sag and feet-down sag in words: what they say beside rider sag. They never take its place."""

from __future__ import annotations

import math

from analysis.results import EndSag, Quantity
from ingest.records import End


def beside_sentences(end: End, found: EndSag) -> list[str]:
    """Give one sentence for rolling sag and one for feet-down sag, where they were measured."""
    said = []
    if found.rolling_sag_mm is not None:
        said.append(_rolling(str(end).capitalize(), found.rolling_sag_mm, found.rider_sag_mm))
    if found.feet_down_sag_mm is not None:
        said.append(_feet_down(str(end).capitalize(), found.feet_down_sag_mm, found.rider_sag_mm))
    return said


def _rolling(name: str, rolling: Quantity, rider: Quantity | None) -> str:
    first = f"{name}: rolling sag {_written(rolling)}"
    if rider is None:
        return f"{first}. Rider sag was not read standing still, and this does not take its place."
    apart, doubt = _apart(rolling, rider)
    if abs(apart) <= doubt:
        return f"{first}; it agrees with rider sag within their doubt (±{doubt:.1f} mm)."
    way = "more" if apart > 0 else "less"
    return (
        f"{first}, {abs(apart):.1f} mm {way} than rider sag and beyond their doubt (±{doubt:.1f} mm): the "
        "rider sat otherwise, or friction or damping holds the bike off its balance. Read both again."
    )


def _feet_down(name: str, feet_down: Quantity, rider: Quantity | None) -> str:
    first = f"{name}: feet-down sag {_written(feet_down)}"
    if rider is None:
        return f"{first}. Rider sag with the feet up was not read, and this does not take its place."
    apart, doubt = _apart(rider, feet_down)
    if abs(apart) <= doubt:
        return f"{first}; no difference from rider sag beyond their doubt (±{doubt:.1f} mm)."
    if apart > 0:
        return f"{first}: {apart:.1f} ± {doubt:.1f} mm less than rider sag; the feet carry the rest."
    return (
        f"{first}: {-apart:.1f} ± {doubt:.1f} mm more than rider sag. With the feet down the rider sits more "
        "over this end."
    )


def _apart(one: Quantity, other: Quantity) -> tuple[float, float]:
    """Give the difference and its doubt, doubts taken as independent: what they share makes it less."""
    return one.value - other.value, math.hypot(one.expanded_uncertainty, other.expanded_uncertainty)


def _written(sag: Quantity) -> str:
    return f"{sag.value:.1f} ± {sag.expanded_uncertainty:.1f} mm"
