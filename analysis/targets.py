"""Target sag by what the bike is used for: common practice, no source.

A bike or setup file that carries ``target_sag_percent`` for an end replaces the band here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from ingest.records import Bike, End

Band = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetSag:
    """Rider sag to aim for, in % of wheel travel, and where the figure comes from."""

    percent: Band
    origin: str

    def in_mm(self, travel_mm: float) -> Band:
        """Give the band in mm of the stated wheel travel."""
        low, high = self.percent
        return low / 100 * travel_mm, high / 100 * travel_mm


# Rider sag in % of wheel travel, front and rear. Common practice, no source.
RIDER_SAG_PERCENT: Mapping[str, Mapping[End, Band]] = MappingProxyType(
    {
        "road": {End.FRONT: (25.0, 35.0), End.REAR: (25.0, 33.0)},
        "touring": {End.FRONT: (28.0, 35.0), End.REAR: (27.0, 35.0)},
        "adventure": {End.FRONT: (28.0, 33.0), End.REAR: (28.0, 33.0)},
        "enduro": {End.FRONT: (22.0, 30.0), End.REAR: (30.0, 35.0)},
        "motocross": {End.FRONT: (20.0, 27.0), End.REAR: (30.0, 35.0)},
    }
)

# Unladen sag in % of wheel travel once rider sag is right, front and rear: less means that the spring is too
# soft (it had to be wound up), more that it is too stiff. Common practice, no source.
UNLADEN_SAG_PERCENT: Mapping[str, Mapping[End, Band]] = MappingProxyType(
    {
        "road": {End.FRONT: (12.0, 20.0), End.REAR: (3.0, 10.0)},
        "touring": {End.FRONT: (15.0, 22.0), End.REAR: (5.0, 12.0)},
        "adventure": {End.FRONT: (17.0, 26.0), End.REAR: (5.0, 14.0)},
        "enduro": {End.FRONT: (10.0, 17.0), End.REAR: (8.0, 13.0)},
        "motocross": {End.FRONT: (8.0, 14.0), End.REAR: (8.0, 13.0)},
    }
)


def unladen_target(bike: Bike, end: End) -> TargetSag | None:
    """Give the band that unladen sag should fall in once rider sag is right; ``None`` without a known use."""
    bands = UNLADEN_SAG_PERCENT.get((bike.use or "").strip().lower())
    if bands is None:
        return None
    return TargetSag(percent=bands[end], origin=f"{bike.use} use, common practice, no source")


def spring_word_for(unladen_mm: float, doubt_mm: float, target_mm: Band) -> str:
    """Say what unladen sag says of the spring once rider sag is right.

    >>> spring_word_for(4.0, 2.0, (11.0, 31.0)), spring_word_for(20.0, 2.0, (11.0, 31.0))
    ('too soft', 'fits')
    """
    sag = word_for(unladen_mm, doubt_mm, target_mm)
    return {"too little": "too soft", "too much": "too stiff", "right": "fits"}.get(sag, sag)


def target_sag(bike: Bike, end: End) -> TargetSag | None:
    """Give the band for one end of a bike; ``None`` where neither the end nor the use says anything.

    Parameters
    ----------
    bike : Bike
        The bike as it is under its setup (see `analysis.effective`).
    end : End
        Front or rear.
    """
    suspension = bike.suspension(end)
    if suspension is not None and suspension.target_sag_percent is not None:
        low, high = suspension.target_sag_percent
        return TargetSag(percent=(low, high), origin="set for this bike")
    bands = RIDER_SAG_PERCENT.get((bike.use or "").strip().lower())
    if bands is None:
        return None
    return TargetSag(percent=bands[end], origin=f"{bike.use} use, common practice, no source")


def word_for(value_mm: float, doubt_mm: float, target_mm: Band) -> str:
    """Name a sag reading: ``right``, ``too little``, ``too much``, or ``cannot tell``.

    A word is given only when the whole band ``value ± doubt`` lies inside or wholly outside the target.

    >>> word_for(47.0, 2.1, (64.4, 75.9)), word_for(65.0, 2.1, (64.4, 75.9))
    ('too little', 'cannot tell')
    """
    low, high = value_mm - doubt_mm, value_mm + doubt_mm
    if high < target_mm[0]:
        return "too little"
    if low > target_mm[1]:
        return "too much"
    if low >= target_mm[0] and high <= target_mm[1]:
        return "right"
    return "cannot tell"
