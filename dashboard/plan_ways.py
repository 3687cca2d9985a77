"""The ways of a plan as rows of a table: what each does to the bike, whether it may be done, and why."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.plan_results import EndPlan, Option, Plan
from dashboard import units as show
from dashboard.plan_measures import on_a_page
from dashboard.units import Units

HEAD = (
    "Ways, least work first",
    "front",
    "rear",
    "seat lower",
    "rake",
    "trail",
    "belly",
    "room F",
    "room R",
    "stand shorter",
    "",
    "Why",
)
FOOT = (
    "front, rear: how much lower the parts set each end; seat lower: sag and parts together; belly: room"
    " under it, rider aboard; room F, R: what is left at full bump, front and rear."
)
LONG = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One way: its name, what is done to both ends, its figures under `HEAD`, and why."""

    name: str
    means: str
    figures: tuple[str, ...]
    word: str
    why: tuple[str, ...]


def rows_of(plan: Plan, units: Units) -> tuple[Row, ...]:
    """Write the ways in the order of the plan."""
    return tuple(
        Row(
            name=option.name,
            means=means_of(option, units),
            figures=figures_of(option, units),
            word="allowed" if option.allowed else "refused",
            why=why(option, units),
        )
        for option in plan.options
    )


def means_of(option: Option, units: Units) -> str:
    """Say what is done to the front and to the rear, with the amounts."""
    both = ((name, _amounts(end)) for name, end in (("front", option.front), ("rear", option.rear)))
    return show.sentence("; ".join(f"{name}: {said}" for name, said in both if said), units)


def _amounts(end: EndPlan) -> str:
    return end.means.split(", and as much")[0]


def figures_of(option: Option, units: Units) -> tuple[str, ...]:
    """Write the figures between the name and the word."""

    def whole(value_mm: float | None) -> str:
        return show.length_number(value_mm, units, 0)

    stand = option.stand
    shorter = None
    if stand.side_stand_mm is not None and stand.side_stand_now_mm is not None:
        shorter = stand.side_stand_now_mm - stand.side_stand_mm
    return (
        whole(option.front.parts_drop_mm),
        whole(option.rear.parts_drop_mm),
        show.quantity(option.seat_drop_mm, units),
        show.angle(option.rake_deg),
        whole(option.trail_mm),
        whole(option.clearance.belly_mm),
        whole(option.clearance.front_full_bump_room_mm),
        whole(option.clearance.rear_full_bump_room_mm),
        whole(shorter),
    )


def why(option: Option, units: Units) -> tuple[str, ...]:
    """Give the reasons of a refusal, or what an allowed way gives and costs, in short sentences."""
    if not option.allowed:
        return tuple(dict.fromkeys(_begun(on_a_page(short(one), units)) for one in option.because))
    said = [_gives(option), *(f"Mind: {one}." for one in option.mind)]
    bottoms = [
        name
        for name, end in (("front", option.front), ("rear", option.rear))
        if end.bottoming_word == "expected"
    ]
    if bottoms and not any("bottoming" in one for one in option.mind):
        said.append(f"Bottoming is to be expected {' and '.join(bottoms)}.")
    said.append(_travel(option))
    said += [f"{_begun(one)}." for one in option.gives_up if "comes down" in one]
    return tuple(show.sentence(one, units) for one in said if one)


def _gives(option: Option) -> str:
    lacks = option.falls_short_mm
    if lacks is None:
        return ""
    if lacks > 0.5 and not option.serves:
        return f"{lacks:.0f} mm short of what is wanted."
    if lacks < -3.0:
        return f"{-lacks:.0f} mm lower than is wanted."
    return "Gives what is wanted."


def _travel(option: Option) -> str:
    """Say what becomes of the travel of both ends."""
    ends = (option.front, option.rear)
    if any(end.travel_mm is None or end.travel_now_mm is None for end in ends):
        return ""
    now = [f"{end.travel_now_mm:.0f}" for end in ends]
    then = [f"{end.travel_mm:.0f}" for end in ends]
    if now == then:
        return f"Travel stays {now[0]} and {now[1]} mm."
    changed = (
        f"{name} {was} → {is_now} mm"
        for name, was, is_now in zip(("front", "rear"), now, then, strict=True)
        if was != is_now
    )
    return f"Travel {', '.join(changed)}."


def short(reason: str) -> str:
    """Cut how to measure off a long reason: that stands in the form.

    >>> short("front: the room at full bump was not measured: strap the front down or take the springs out, "
    ...       "go up the travel from full extension to full bump")
    'front: the room at full bump was not measured'
    """
    if len(reason) <= LONG or "not measured" not in reason:
        return reason
    return reason[: reason.index("not measured") + len("not measured")]


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]
