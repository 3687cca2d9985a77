"""Setups in order, and what a test day takes, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.compare_results import Ranked, Ranking, TestDay
from analysis.metrics import in_words
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table, shortened
from ingest.records import End

ASKED_FOR = ("mean_mm", "p99_mm", "travel_used_percent", "bottoming_per_10_min", "topping_per_10_min")
SETUP_WIDTH = 24


def place_table(ranking: Ranking) -> Table:
    """Write the setups in order, with how much they were ridden and at what rider sag."""
    return Table(
        head=("place", "setup", "runs", "minutes", "rider sag front", "rear"),
        rows=tuple(
            (
                _place(one, ranking),
                shortened(one.setup, SETUP_WIDTH),
                str(one.runs),
                show.number(one.minutes, 1),
                *(NOTHING if sag is None else show.percent(sag) for sag in one.rider_sag_percent),
            )
            for one in ranking.ranked
        ),
    )


def _place(one: Ranked, ranking: Ranking) -> str:
    shared = sum(other.place == one.place for other in ranking.ranked) > 1
    return f"{one.place}, shared" if shared else str(one.place)


def traits(ranking: Ranking) -> tuple[str, ...]:
    """Say of each setup what it is best and worst at."""
    return tuple(_trait(one) for one in ranking.ranked)


def _trait(one: Ranked) -> str:
    said = []
    if one.best_at:
        said.append(f"best at: {'; '.join(both_ends(one.best_at))}")
    if one.worst_at:
        said.append(f"worst at: {'; '.join(both_ends(one.worst_at))}")
    return f"{one.setup}: {'. '.join(said) or 'nothing that chance does not explain'}"


def both_ends(said: Sequence[str]) -> tuple[str, ...]:
    """Say once what is true of both ends.

    >>> both_ends(("tops out least often (front)", "tops out least often (rear)"))
    ('tops out least often (front and rear)',)
    """
    ends: dict[str, list[str]] = {}
    for text in said:
        words, _, end = text.rstrip(")").rpartition(" (")
        ends.setdefault(words, []).append(end)
    return tuple(f"{words} ({' and '.join(of_words)})" for words, of_words in ends.items())


def numbers_table(ranking: Ranking, end: End, units: Units = Units.MM) -> Table:
    """Write what people ask of one end: a row a setup, narrow enough for a terminal."""
    kinds = [kind for kind in ASKED_FOR if any(_has(one, end, kind) for one in ranking.ranked)]
    short = {
        "mean_mm": f"rides at, {units}",
        "p99_mm": f"1 % past, {units}",
        "travel_used_percent": "deepest",
        "bottoming_per_10_min": "bottoms",
        "topping_per_10_min": "tops out",
    }
    return Table(
        head=(end, *(short[kind] for kind in kinds)),
        rows=tuple(
            (shortened(one.setup, SETUP_WIDTH), *(_number(one, end, kind, units) for kind in kinds))
            for one in ranking.ranked
        ),
    )


IN_10_MIN = "bottoms and tops out: how often in 10 min"


def _has(one: Ranked, end: End, kind: str) -> bool:
    return f"{end}_{kind}" in dict(one.metrics)


def _number(one: Ranked, end: End, kind: str, units: Units) -> str:
    value = dict(one.metrics).get(f"{end}_{kind}")
    if value is None:
        return NOTHING
    if kind == "travel_used_percent":
        return show.percent(value)
    if kind.endswith("_mm"):
        return show.length_number(value, units, 0)
    return show.number(value, 1)


# ------------------------------------------------------------------------------------------- test day


def day_table(day: TestDay) -> Table:
    """Write the choices: runs a side, minutes a run, and what that comes to on both sides."""
    return Table(
        head=("runs a side", "minutes a run", "minutes of riding in all"),
        rows=tuple(
            (str(runs), show.number(minutes, 1), show.number(2 * runs * minutes, 0))
            for runs, minutes in day.options
        ),
    )


def day_question(day: TestDay, units: Units = Units.MM) -> str:
    """Say what is looked for."""
    return f"to see a change of {_amount(day, abs(day.change), units)} in the {in_words(day.metric)}"


def day_lines(day: TestDay, units: Units = Units.MM) -> tuple[str, ...]:
    """Say what the plan rests on and what the rides at hand would show."""
    return tuple(_day_lines(day, units))


def _day_lines(day: TestDay, units: Units) -> Iterator[str]:
    yield f"rests on {day.basis}"
    if day.within_run_sd is not None:
        inside = _amount(day, day.within_run_sd, units)
        between = "not known"
        if day.between_runs_sd is not None:
            seen = day.between_runs_sd > 0
            between = f"± {_amount(day, day.between_runs_sd, units)}" if seen else "nothing these runs show"
        yield (
            f"two times in three one run by itself lies within ± {inside}; what sets two runs of one setup "
            f"apart besides: {between}"
        )
    if day.seen_now is not None:
        yield f"as many runs a side as these would show {_amount(day, day.seen_now, units)}"


def _amount(day: TestDay, value: float, units: Units) -> str:
    if day.unit == "mm":
        return show.length(value, units)
    if day.unit == "mm/s":
        return show.speed(value, units)
    return f"{show.number(value, 1)} in 10 min"
