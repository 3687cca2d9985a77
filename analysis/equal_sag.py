"""Were setups ridden at one rider sag? A spring set higher or lower shows its setting as much as itself."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from analysis.results import Quantity
from ingest.records import End

SET_PERCENT = 1.0
"""So close, in percent of travel, is sag set with any care (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SagShare:
    """Rider sag of one end in percent of its travel, with its 95 % doubt."""

    percent: float
    doubt: float


def sag_share(sag: Quantity | None, travel_mm: float | None) -> SagShare | None:
    """Give a rider sag (mm) as a share of the travel; ``None`` where either is unknown."""
    if sag is None or travel_mm is None:
        return None
    return SagShare(percent=100 * sag.value / travel_mm, doubt=100 * sag.expanded_uncertainty / travel_mm)


Shares = Mapping[str, Mapping[End, SagShare | None]]
"""By the name of the setup."""


def equal_sag(name: str, shares: Shares) -> bool | None:
    """Tell whether a setup was ridden at the sag of all others, within their doubt and what sag is set to.

    An end of which no setup has a sag does not count. ``None`` where that cannot be told.
    """
    known = False
    for end in End:
        others = {setup: of_setup[end] for setup, of_setup in shares.items()}
        if not any(others.values()):
            continue
        own = others.pop(name)
        if own is None or not all(others.values()):
            return None
        known = True
        if any(other is not None and _apart(own, other) for other in others.values()):
            return False
    return True if known else None


def _apart(one: SagShare, other: SagShare) -> bool:
    return abs(one.percent - other.percent) > math.hypot(one.doubt, other.doubt, SET_PERCENT)


def sag_cautions(shares: Shares, equal: Mapping[str, bool | None]) -> Iterator[str]:
    """Label a ranking that was not made at equal rider sag, or of which that is not known."""
    if all(equal.values()):
        return
    rest = "part of any difference may be where each was set, not the spring"
    if any(word is False for word in equal.values()):
        listed = "; ".join(f"{name} {_text(of_setup)}" for name, of_setup in shares.items())
        yield f"not at equal rider sag ({listed}): {rest}; set all to one sag and ride again"
        return
    unknown = ", ".join(name for name, word in equal.items() if word is None)
    yield f"equal rider sag not known ({unknown}): {rest}; check the sag of each setup"


def _text(of_setup: Mapping[End, SagShare | None]) -> str:
    known = [f"{end} {share.percent:.0f} %" for end, share in of_setup.items() if share is not None]
    return ", ".join(known) or "not known"
