"""What the pages ask of the book and the analysis, remembered for a while.

One object per app holds it, bounded, so that switching units or theme does not analyse an hour again. An
answer is kept under the log's id and the state of its files: an amendment makes it new.
"""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar, cast

from analysis.compare import compare_rides
from analysis.compare_results import Comparison, Ranking, TestDay
from analysis.motion import EndMotion
from analysis.ranking import rank_setups
from analysis.results import Quantity, SagCheck
from analysis.ride import both_motions, summarise_ride
from analysis.ride_results import RideSummary
from analysis.sag import check_sag
from analysis.sections import sections
from analysis.test_day import plan_test_day
from dashboard.ride_parts import parts_of
from dashboard.sag_at_rest import newest_sag_log, rider_sags
from dashboard.section_words import Parts
from ingest.book import Book
from ingest.errors import FlatfootError
from ingest.log import Log
from ingest.records import End, Job

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ridden:
    """All that was worked out of a ride, or of one section of it.

    ``log`` has no rows where it is the whole ride. ``rider_sags`` are those of the sag check ``sag_log``,
    where the job has one of the same setup.
    """

    log: Log
    ride: RideSummary
    motions: Mapping[End, EndMotion]
    rider_sags: Mapping[End, Quantity]
    sag_log: str | None


KEPT_RESULTS = 64  # summaries are small
KEPT_MOTIONS = 4  # an hour of one end at 1 kHz is 58 MB
_ID = re.compile(r"[\w.-]{1,100}")  # what an id may look like in an address; anything else is not looked up


class _Kept:
    """The newest answers, the oldest dropped first."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._lock = threading.Lock()
        self._answers: OrderedDict[object, object] = OrderedDict()

    def get(self, key: object, work_out: Callable[[], T]) -> T:
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return cast(T, self._answers[key])
        answer = work_out()
        with self._lock:
            self._answers[key] = answer
            while len(self._answers) > self._size:
                self._answers.popitem(last=False)
        return answer


class Answers:
    """The book, and what was worked out from its logs lately. Safe to ask from several threads."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._results = _Kept(KEPT_RESULTS)
        self._motions = _Kept(KEPT_MOTIONS)
        self._headers = _Kept(1)

    def job(self, job_id: str | None) -> Job | None:
        """Give a job, ``None`` where the book has no such job."""
        if job_id is None or not _ID.fullmatch(job_id):
            return None
        return next((job for job in self.book.jobs() if job.id == job_id), None)

    def header(self, log_id: str | None) -> Log | None:
        """Give a log without its rows, ``None`` where the book has no such log."""
        if log_id is None or not _ID.fullmatch(log_id):
            return None
        return next((log for log in self.logs() if log.id == log_id), None)

    def logs(self, job_id: str | None = None) -> list[Log]:
        """Give the headers of all logs, or of one job's, newest first; read anew when a file has changed."""
        folder = self.book.log_path("any").parent
        logs = self._headers.get(_stamps(folder.glob("*")), self.book.logs)
        return [log for log in logs if job_id is None or log.job == job_id]

    def sag(self, log_id: str) -> SagCheck:
        """Check the sag of a log."""
        return self._results.get(("sag", self._state(log_id)), lambda: check_sag(self.book.read_log(log_id)))

    def ride(self, log_id: str, section: int = 0) -> RideSummary:
        """Summarise a ride, or one of its sections, counted from 1."""
        sag_log = self._sag_log(log_id)
        key = ("ride", self._state(log_id), section, sag_log and self._state(sag_log))
        return self._results.get(
            key,
            lambda: summarise_ride(
                self._part_of(log_id, section), self._rider_sags(sag_log), self._both(log_id, section)
            ),
        )

    def ridden(self, log_id: str, section: int = 0) -> Ridden:
        """Give all the page of a ride shows."""
        header, sag_log = self.header(log_id), self._sag_log(log_id)
        whole = section == 0 and header is not None
        return Ridden(
            log=header if whole and header is not None else self._part_of(log_id, section),
            ride=self.ride(log_id, section),
            motions=self.motions(log_id, section),
            rider_sags=self._rider_sags(sag_log),
            sag_log=sag_log,
        )

    def parts(self, log_id: str) -> Parts:
        """Give the sections of a ride side by side, after the whole of it."""
        return self._results.get(("parts", self._state(log_id)), lambda: self._work_out_parts(log_id))

    def _work_out_parts(self, log_id: str) -> Parts:
        header = self.header(log_id)
        if header is None or not header.marks:
            return Parts()
        return parts_of(self.book.read_log(log_id), self.ride(log_id), self._both(log_id, 0))

    def _part_of(self, log_id: str, section: int) -> Log:
        log = self.book.read_log(log_id)
        return sections(log)[section - 1].log if section else log

    def _rider_sags(self, sag_log: str | None) -> dict[End, Quantity]:
        return {} if sag_log is None else rider_sags(self.sag(sag_log))

    def _sag_log(self, log_id: str) -> str | None:
        """Name the sag check a ride is held against, if it can be read and says something."""
        ride = self.header(log_id)
        found = None if ride is None else newest_sag_log(self.logs(ride.job), ride)
        if found is None:
            return None
        try:
            self.sag(found.id)
        except FlatfootError:
            return None
        return found.id

    def comparison(self, before: Sequence[str], after: Sequence[str]) -> Comparison:
        """Compare rides before with rides after."""
        key = ("compare", tuple(map(self._state, before)), tuple(map(self._state, after)))
        return self._results.get(
            key,
            lambda: compare_rides(
                [self.book.read_log(log_id) for log_id in before],
                [self.book.read_log(log_id) for log_id in after],
            ),
        )

    def ranking(self, setups: Mapping[str, Sequence[str]]) -> Ranking:
        """Put setups in order, from the rides of each; its sag check gives the rider sags."""
        sags = {name: self._sag_log(rides[0]) for name, rides in setups.items() if rides}
        states = tuple((name, *map(self._state, rides)) for name, rides in setups.items())
        return self._results.get(
            ("rank", states, tuple(log_id and self._state(log_id) for log_id in sags.values())),
            lambda: rank_setups(
                {name: [self.book.read_log(log_id) for log_id in rides] for name, rides in setups.items()},
                {name: self._rider_sags(log_id) for name, log_id in sags.items()},
            ),
        )

    def test_day(self, rides: Sequence[str], metric: str, change: float) -> TestDay:
        """Plan runs that show a change of one number, from rides of one setup."""
        return self._results.get(
            ("test day", tuple(map(self._state, rides)), metric, change),
            lambda: plan_test_day([self.book.read_log(log_id) for log_id in rides], metric, change),
        )

    def motions(self, log_id: str, section: int = 0) -> dict[End, EndMotion]:
        """Give the travel over time of the ends that were measured."""
        both = self._both(log_id, section)
        return {end: motion for end, motion in both.items() if motion is not None}

    def _both(self, log_id: str, section: int) -> dict[End, EndMotion | None]:
        key = (self._state(log_id), section)
        return self._motions.get(key, lambda: both_motions(self._part_of(log_id, section)))

    def _state(self, log_id: str) -> tuple[object, ...]:
        path = self.book.log_path(log_id)
        beside = path.parent.glob(f"{path.stem}.*")
        return (log_id, *_stamps(beside))


def _stamps(files: Iterable[Path]) -> tuple[tuple[str, int, int], ...]:
    """Tell files by name, time and size; one that is gone meanwhile is none."""
    stamps = []
    for file in files:
        with suppress(FileNotFoundError):
            now = file.stat()
            stamps.append((file.name, now.st_mtime_ns, now.st_size))
    return tuple(sorted(stamps))
