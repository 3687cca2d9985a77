"""The cards of the before/after page about the work: what was changed, sag, bottoming, what was given up."""

from __future__ import annotations

from typing import Any

from dash import html

from analysis.effective import effective_bike
from analysis.results import EndSag
from analysis.together import AttitudeTogether, EndTogether
from dashboard.compared import Compared
from dashboard.forecast_words import MEANS, forecast_lines, forecast_table
from dashboard.pages.compare_parts import Group, fold, lines, pair_table, roomy, second
from dashboard.parts import Look, table
from dashboard.setup_words import side_by_side
from dashboard.shell import setup_name
from dashboard.units import NOTHING, angle, length_number, number, percent, quantity
from ingest.records import End

GRADES = (("rubber", "Rubber touched"), ("near full", "Past 98 %"), ("hard stop", "Hard stop"))
MOVED = (
    "Parts moved the travel itself in the bike, so ride positions alone do not tell trail and clearance: the "
    "plan and the report have them."
)
NOTED = ("rider", "load case", "route", "tyre pressures", "warmed up")


def changed(compared: Compared, look: Look) -> Any:
    """Lay what was changed side by side; what stayed the same is named in one row."""
    before, after = (side.logs[0] for side in compared.sides)
    states = [
        ("before", effective_bike(before.bike, before.setup)),
        ("after", effective_bike(after.bike, after.setup)),
    ]
    made = side_by_side(states, look.units, only_changes=True)
    rows: list[tuple[Any, ...]] = [("setup", setup_name(before), html.B(setup_name(after)))]
    rows += [(name, was, html.B(now)) for name, was, now in made.rows]
    noted = [one for one in compared.comparison.likeness if one.what in NOTED]
    rows += [(one.what, one.before, html.B(one.after)) for one in noted if one.word == "differs"]
    for word, said in (("alike", "same"), ("unknown", "not noted")):
        names = [one.what for one in noted if one.word == word]
        if names:
            rows.append((", ".join(names), said, said))
    return roomy("What was changed", table(("", "before", "after"), rows), order=6)


def sag(compared: Compared, look: Look) -> list[Any]:
    """Show rider sag and unladen sag before and after; nothing where neither setup was checked."""
    groups: list[Group] = []
    for name, rider in (("Rider sag", True), ("Unladen sag", False)):
        rows = []
        for end in End:
            was, now = (side.sag_of(end) for side in compared.sides)
            if was is not None or now is not None:
                cells = [_sag(was, look, rider=rider), html.B(_sag(now, look, rider=rider))]
                rows.append((end, [*cells, _sag_word(was, now) if rider else ""]))
        if rows:
            groups.append((f"{name}, {look.units}", rows))
    if not groups:
        return []
    made = pair_table(("", "end", "before", "after", "in a word"), groups, numbers=(0, 1))
    return [roomy("Sag at rest", made, order=7)]


def _sag(found: EndSag | None, look: Look, *, rider: bool) -> str:
    if found is None:
        return NOTHING
    return quantity(found.rider_sag_mm if rider else found.unladen_sag_mm, look.units)


def _sag_word(was: EndSag | None, now: EndSag | None) -> Any:
    if now is None:
        return "not checked after"
    if was is None or was.word == now.word:
        return html.B(now.word)
    return second(html.B(now.word), f"was {was.word}")


def bottoming(compared: Compared) -> Any:
    """Show bottomings by grade, and how often it would bottom in an hour of the same riding."""
    groups: list[Group] = []
    never = []
    for grade, name in GRADES:
        rows = [
            (end, [one.graded_per_10_min[grade] for one in both])
            for end in End
            if (both := _both(compared, end)) is not None
        ]
        if any(rate for _, rates in rows for rate in rates):
            cells = [(end, [number(was), html.B(number(now))]) for end, (was, now) in rows]
            groups.append((f"{name}, in 10 min", cells))
        else:
            never.append(name.lower())
    said = [html.P(f"Never on these rides: {', '.join(never)}.")] if never else []
    foretold = forecast_table(compared.comparison)
    if foretold.rows:
        hours = [(End(end), [was, html.B(now)]) for end, was, now in foretold.rows]
        groups.append((second("Would bottom, in an hour", "95 in 100 lie in (…)"), hours))
    about = (f"{line[0].upper()}{line[1:]}." for line in forecast_lines(compared.comparison))
    made = pair_table(("", "end", "before", "after"), groups, numbers=(0, 1), kind="ff-narrow")
    folded = [fold("What the hour rests on", html.P(MEANS), lines(about))] if foretold.rows else []
    return roomy("How often it bottoms", *said, made, *folded, order=8, sub="this route, this pace")


def _both(compared: Compared, end: End) -> tuple[EndTogether, EndTogether] | None:
    was, now = (side.end(end) for side in compared.sides)
    return None if was is None or now is None else (was, now)


def given_up(compared: Compared, look: Look) -> Any:
    """Show what the work cost: travel left while riding, travel itself, trail and rake, as far as changed."""
    groups: list[Group] = []
    same = []
    for name, write in (
        ("Travel left where it rides", _left),
        ("Travel left at the deepest", _left_deepest),
        ("Full travel", _travel),
    ):
        rows = [
            (end, [write(one, look) for one in both])
            for end in End
            if (both := _both(compared, end)) is not None
        ]
        if all(was == now for _, (was, now) in rows):
            same.append(name.lower())
            continue
        groups.append((f"{name}, {look.units}", [(end, [was, html.B(now)]) for end, (was, now) in rows]))
    groups += _attitude(compared, look, same)
    made = pair_table(("", "end", "before", "after"), groups, numbers=(0, 1), kind="ff-narrow")
    kept = [html.P(f"As before: {', '.join(same)}.", className="ff-quiet")] if same else []
    moved = [] if compared.travel_sits_alike else [html.P(MOVED, className="ff-quiet")]
    return roomy("What was given up", made, *kept, *moved, order=9, sub="while riding")


def _travel(one: EndTogether, look: Look) -> str:
    return length_number(one.travel_mm, look.units, 0)


def _left(one: EndTogether, look: Look) -> str:
    return length_number(one.left_mm, look.units, 0)


def _left_deepest(one: EndTogether, look: Look) -> str:
    if one.left_at_deepest_mm < 0:
        return "none"
    return f"{length_number(one.left_at_deepest_mm, look.units, 0)} ({percent(one.left_at_deepest_percent)})"


def _attitude(compared: Compared, look: Look, same: list[str]) -> list[Group]:
    """Give the rows of the bike as a whole; what did not change is added to ``same``."""
    was, now = (side.attitude for side in compared.sides)
    if was is None or now is None:
        return []
    rows: list[tuple[str, Any, Any]] = [("Front · rear ride at, % of travel", _against(was), _against(now))]
    for name, unit, before, after in (
        ("Trail", f", {look.units}", _trail(was, look), _trail(now, look)),
        ("Rake", "", angle(was.rake_deg), angle(now.rake_deg)),
    ):
        if NOTHING in (before, after) or not compared.travel_sits_alike:
            continue
        if before == after:
            same.append(name.lower())
        else:
            rows.append((f"{name}{unit}", before, after))
    return [(name, [(None, [before, html.B(after)])]) for name, before, after in rows]


def _trail(attitude: AttitudeTogether, look: Look) -> str:
    return length_number(attitude.trail_mm, look.units, 0)


def _against(attitude: AttitudeTogether) -> Any:
    shares = f"{number(attitude.front_percent, 0)} · {number(attitude.rear_percent, 0)}"
    return second(shares, attitude.level_word)
