"""All that the before/after page shows of two sides, gathered from the book once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.compare_results import Comparison
from analysis.results import EndSag, SagCheck
from analysis.ride_results import RideSummary
from analysis.stop_stayed import full_bump_stayed, travel_sits_alike
from analysis.together import AttitudeTogether, EndTogether, attitude_together, together
from dashboard.answers import Answers
from dashboard.sag_at_rest import newest_sag_log
from ingest.errors import FlatfootError
from ingest.log import Log
from ingest.records import End


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Side:
    """One side: its rides (headers, in the order given), what they did, and the sag check of their setup."""

    logs: tuple[Log, ...]
    rides: tuple[RideSummary, ...]
    sag: SagCheck | None

    def end(self, end: End) -> EndTogether | None:
        """Give what one end did on all these rides."""
        return together([ride for summary in self.rides if (ride := summary.end(end)) is not None])

    def sag_of(self, end: End) -> EndSag | None:
        """Give the sag of one end at rest, where there is a check of this setup."""
        if self.sag is None:
            return None
        return self.sag.front if end is End.FRONT else self.sag.rear

    @property
    def attitude(self) -> AttitudeTogether | None:
        """How the bike sat on these rides."""
        return attitude_together(self.rides)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Compared:
    """Both sides and what the comparison says."""

    before: Side
    after: Side
    comparison: Comparison

    @property
    def sides(self) -> tuple[Side, Side]:
        """Before, after."""
        return (self.before, self.after)

    def full_bump_stayed(self, end: End) -> bool:
        """Say whether the work took travel off at the topped-out end alone."""
        return full_bump_stayed(self.before.logs[0], self.after.logs[0], end)

    @property
    def travel_sits_alike(self) -> bool:
        """Say whether the work left the travel of both wheels where it was in the bike."""
        return travel_sits_alike(self.before.logs[0], self.after.logs[0])


def gather(answers: Answers, before: Sequence[Log], after: Sequence[Log]) -> Compared:
    """Compare the rides, and find the sag check of each side's setup.

    Raises
    ------
    FlatfootError
        What `analysis.compare.compare_rides` raises.
    """
    comparison = answers.comparison([log.id for log in before], [log.id for log in after])
    return Compared(
        before=Side(logs=tuple(before), rides=comparison.before, sag=sag_beside(answers, before[0])),
        after=Side(logs=tuple(after), rides=comparison.after, sag=sag_beside(answers, after[0])),
        comparison=comparison,
    )


def sag_beside(answers: Answers, ride: Log) -> SagCheck | None:
    """Give the newest sag check of a ride's setup; ``None`` where there is none that says anything."""
    found = newest_sag_log(answers.book.logs(ride.job), ride)
    if found is None:
        return None
    try:
        return answers.sag(found.id)
    except FlatfootError:
        return None
