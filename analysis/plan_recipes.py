"""The ways to lower a bike, put together from the means of both ends: what goes with what, how deep it goes.

Front and rear come down together by the same height, so that rake and trail stay. What is built here is not
judged yet; a means that cannot be done carries its own refusal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.means import EndNow, Fitted, as_it_is, is_fork
from analysis.means_fork import raise_limit_mm, raised, raised_and_spacer, spacer, spacer_for_mm
from analysis.means_plates import plates_for, stated_plates
from analysis.means_seat import seat_reasons, smaller_tyre, tyre_reasons
from analysis.means_shock import shorter
from analysis.means_spring import SpringAtHand, by_preload, by_spring, lowering_spring
from ingest.records import End

INTERVENTION = (
    "settings only",
    "clamps only",
    "parts exchanged",
    "fork or shock opened",
    "something is cut",
)
STALE_SHOCK = "A tired stock shock stays tired: its damping is as it was."
SAME_DAMPING = "Damping stays as it was, and a softer spring wants less rebound."
WORTH_COMBINING_MM = 5.0
"""Nobody opens a fork, or raises its tubes, for less (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """One way to lower the bike, before it is worked out. ``seat_mm`` is taken off the seat itself."""

    name: str
    kind: str
    intervention: int
    front: Fitted
    rear: Fitted
    seat_mm: float = 0.0
    reversible: bool = True
    way_back: str = "put it back as it was"
    does_not_fix: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()

    @property
    def fitting(self) -> Mapping[End, Fitted]:
        """Both ends."""
        return {End.FRONT: self.front, End.REAR: self.rear}


def sag_recipes(ends: Mapping[End, EndNow], springs: Mapping[End, SpringAtHand]) -> list[Recipe]:
    """Give the ways to correct sag, no part that lowers among them."""
    front, rear = ends[End.FRONT], ends[End.REAR]
    return [
        Recipe(
            name="correct sag by preload",
            kind="preload",
            intervention=0,
            front=by_preload(front),
            rear=by_preload(rear),
            way_back="turn the collars back",
            does_not_fix=("A spring of the wrong rate stays wrong: preload only moves the bike on it.",),
        ),
        Recipe(
            name="correct sag by other springs",
            kind="springs",
            intervention=2,
            front=by_spring(front, springs.get(End.FRONT)),
            rear=by_spring(rear, springs.get(End.REAR)),
            way_back="keep the old springs and put them back",
            does_not_fix=(STALE_SHOCK, SAME_DAMPING),
        ),
    ]


def asked_raise(ends: Mapping[End, EndNow], amount_mm: float) -> Recipe:
    """Give the one option of raising the fork tubes by so much, the rear left as it is."""
    return Recipe(
        name=f"fork tubes raised {amount_mm:g} mm",
        kind="fork tubes",
        intervention=1,
        front=raised(ends[End.FRONT], amount_mm),
        rear=as_it_is(ends[End.REAR]),
        way_back="lower the tubes in the clamps again",
        does_not_fix=("Springs and damping stay as they were.",),
    )


def part_recipes(
    ends: Mapping[End, EndNow],
    drop_mm: float,
    springs: Mapping[End, SpringAtHand],
    raise_mm: float | None,
) -> list[Recipe]:
    """Give the ways to lower both ends by ``drop_mm``, vertically at each axle.

    ``raise_mm`` holds the fork tubes at an amount somebody asked about.
    """
    rear = ends[End.REAR]
    plates = _plates(rear, drop_mm)
    plates_mm = drop_mm if plates.refused else plates.parts_up_mm(rear)
    shock, long_shock = shorter(rear, drop_mm), shorter(rear, drop_mm, same_stroke=True)
    found = [_lowering_springs(ends, drop_mm, springs), _seat(ends, drop_mm), _tyres(ends, drop_mm)]
    for front, word, depth in _fronts(ends[End.FRONT], plates_mm, raise_mm):
        found.append(_with_plates(front, plates, word, depth))
    for front, word, depth in _fronts(ends[End.FRONT], drop_mm, raise_mm):
        found.append(_with_shock(front, shock, f"shorter shock, {word}"))
        if depth < 3:  # a fork that is opened anyway goes with the shock that keeps full bump
            found.append(_with_shock(front, long_shock, f"shorter shock, same stroke, {word}"))
    return [*found, _rear_only(ends, plates, plates_mm)]


def _plates(rear: EndNow, drop_mm: float) -> Fitted:
    """Take the smallest set of the bike file that gives enough, or the largest that fits; or any plates."""
    sets = () if rear.suspension is None else rear.suspension.plates
    fitted = sorted((stated_plates(rear, one) for one in sets), key=lambda one: one.parts_up_mm(rear))
    lower = [one for one in fitted if one.refused or one.parts_up_mm(rear) > 0]
    if not lower:
        return plates_for(rear, drop_mm)
    enough = [one for one in lower if one.parts_up_mm(rear) >= drop_mm - WORTH_COMBINING_MM / 2]
    fits = [one for one in lower if not one.refused]
    return next((one for one in enough if not one.refused), (fits or enough or lower)[-1])


def _fronts(front: EndNow, vertical_mm: float, raise_mm: float | None) -> Sequence[tuple[Fitted, str, int]]:
    """Give the front means that match a rear drop: fitted, in words, and how deep the work goes."""
    along = vertical_mm / front.vertical
    if not is_fork(front):
        return [(shorter(front, along), "shorter strut", 3)]
    up = along if raise_mm is None else raise_mm
    length = spacer_for_mm(front, along) or along
    ways = [
        (raised(front, up), "fork tubes raised", 2),
        (spacer(front, length), "spacers in the fork", 3),
    ]
    limit = raise_limit_mm(front)
    if raise_mm is None and limit is not None and WORTH_COMBINING_MM <= limit <= along - WORTH_COMBINING_MM:
        rest = spacer_for_mm(front, along - limit)
        if rest is not None:
            both = raised_and_spacer(front, limit, rest)
            ways.append((both, "fork tubes raised and spacers", 3))
    return ways


def _with_plates(front: Fitted, plates: Fitted, word: str, depth: int) -> Recipe:
    return Recipe(
        name=f"linkage plates, {word}",
        kind="plates",
        intervention=depth,
        front=front,
        rear=plates,
        way_back="put the old plates back, and the fork back to where it was",
        does_not_fix=(STALE_SHOCK, "The spring has to suit the rider as before."),
    )


def _with_shock(front: Fitted, shock: Fitted, name: str) -> Recipe:
    return Recipe(
        name=name,
        kind="shock",
        intervention=3,
        front=front,
        rear=shock,
        way_back="keep the old shock (or its length) and the old fork parts, and put them back",
        does_not_fix=("A shock that is only shortened keeps its damping: have it serviced and set as well.",),
    )


def _lowering_springs(
    ends: Mapping[End, EndNow], drop_mm: float, springs: Mapping[End, SpringAtHand]
) -> Recipe:
    fitted = {
        end: lowering_spring(now, drop_mm / now.vertical, springs.get(end)) for end, now in ends.items()
    }
    return Recipe(
        name="lowering springs at both ends",
        kind="lowering springs",
        intervention=2,
        front=fitted[End.FRONT],
        rear=fitted[End.REAR],
        way_back="keep the old springs and put them back",
        does_not_fix=(STALE_SHOCK, "The bike runs deep in its travel, and bottoms sooner."),
    )


def _seat(ends: Mapping[End, EndNow], drop_mm: float) -> Recipe:
    return Recipe(
        name="lower seat",
        kind="seat",
        intervention=4,
        front=as_it_is(ends[End.FRONT]),
        rear=as_it_is(ends[End.REAR]),
        seat_mm=drop_mm,
        reversible=False,
        way_back="none for foam that is cut; buy or keep a second seat",
        does_not_fix=("The bike stands as high as before, and knees bend more.",),
        refused=seat_reasons(drop_mm),
    )


def _tyres(ends: Mapping[End, EndNow], drop_mm: float) -> Recipe:
    return Recipe(
        name="smaller tyres",
        kind="tyres",
        intervention=2,
        front=smaller_tyre(ends[End.FRONT], drop_mm),
        rear=smaller_tyre(ends[End.REAR], drop_mm),
        way_back="fit the old size with the next tyres",
        does_not_fix=("Sag and springs stay as they were; the speedometer reads more than before.",),
        refused=tyre_reasons(drop_mm),
    )


def _rear_only(ends: Mapping[End, EndNow], plates: Fitted, plates_mm: float) -> Recipe:
    """Give what the rear alone does, as a warning; a shorter shock where the bike has no plates."""
    no_linkage = any("no linkage" in reason for reason in plates.refused)
    rear = shorter(ends[End.REAR], plates_mm) if no_linkage else plates
    return Recipe(
        name=f"{'shorter shock' if no_linkage else 'linkage plates'} alone, front left high",
        kind="rear only",
        intervention=3 if no_linkage else 2,
        front=as_it_is(ends[End.FRONT]),
        rear=rear,
        way_back="put the old parts back",
        does_not_fix=(STALE_SHOCK, "Front and rear no longer match."),
    )
