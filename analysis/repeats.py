"""What to ride next, so that a comparison can be believed: repeats, in which order, and what to note."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from analysis.judging import RUNS_FOR_SCATTER
from ingest.log import Log

GOOD_RUN_S = 300.0
_NUMBERS = ("no", "one", "two")


def what_is_missing(before: Sequence[Log], after: Sequence[Log]) -> tuple[str, ...]:
    """Say in plain words what to ride or note next; nothing where nothing is missing.

    Three runs a side show how far two runs of one setup differ; before, after and before again shows what
    the day itself did. Both are common practice, no source.
    """
    return tuple(_missing(before, after))


def _missing(before: Sequence[Log], after: Sequence[Log]) -> Iterator[str]:
    for side, logs in (("before", before), ("after", after)):
        if len(logs) < RUNS_FOR_SCATTER:
            more = RUNS_FOR_SCATTER - len(logs)
            yield (
                f"ride the setup {side} {_NUMBERS[more]} more time{'s' if more > 1 else ''} on the same "
                f"route: {RUNS_FOR_SCATTER} runs a side show how far two runs of one setup differ"
            )
    if not _came_back(before, after):
        yield (
            "put the first setup back and ride it once more after the other (before, after, before again): "
            "that shows what the day itself changed, as warm oil or a road that dries"
        )
    every = (*before, *after)
    shortest = min((log.duration_s for log in every), default=0.0)
    if shortest < GOOD_RUN_S:
        yield f"ride {GOOD_RUN_S / 60:.0f} minutes a run; the shortest had {shortest / 60:.1f}"
    if any(log.run.warmed_up is not True for log in every):
        yield "warm up before the first run, ten minutes or so, and note it with each run"
    if len({(log.run.front_tyre_kpa, log.run.rear_tyre_kpa) for log in every}) > 1 or any(
        log.run.front_tyre_kpa is None or log.run.rear_tyre_kpa is None for log in every
    ):
        yield "set the same tyre pressures for every run and note them"
    if len({log.run.route for log in every}) > 1 or any(log.run.route is None for log in every):
        yield "ride one and the same route every time and note its name"
    if any(log.rider is None or log.load_case is None for log in every):
        yield "note who rode and what was aboard; both should stay the same"


def _came_back(before: Sequence[Log], after: Sequence[Log]) -> bool:
    """Whether the sides take turns: a run of one lies between two of the other.

    Logs without a readable start say nothing, so the answer is no.
    """
    starts = [[started_s(log) for log in side] for side in (before, after)]
    known = [[start for start in side if start is not None] for side in starts]
    if not all(known):
        return False
    return any(min(one) < start < max(one) for one, other in (known, known[::-1]) for start in other)


def started_s(log: Log) -> float | None:
    """Give when a recording began, in seconds, to put recordings in order; ``None`` where it is not known."""
    try:
        return datetime.fromisoformat(log.started).timestamp()
    except ValueError:
        return None
