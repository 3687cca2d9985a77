"""What the pages ask of the book and the analysis, remembered for a while.

One object per app holds it, bounded, so that switching units or theme does not analyse an hour again. An
answer is kept under the log's id and the state of its files: an amendment makes it new.
"""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import TypeVar, cast

from analysis.compare import compare_rides
from analysis.compare_results import Comparison
from analysis.motion import EndMotion, end_motion
from analysis.results import SagCheck
from analysis.ride import summarise_ride
from analysis.ride_results import RideSummary
from analysis.sag import check_sag
from ingest.book import Book
from ingest.log import Log
from ingest.records import End, Job

T = TypeVar("T")

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

    def job(self, job_id: str | None) -> Job | None:
        """Give a job, ``None`` where the book has no such job."""
        if job_id is None or not _ID.fullmatch(job_id):
            return None
        return next((job for job in self.book.jobs() if job.id == job_id), None)

    def header(self, log_id: str | None) -> Log | None:
        """Give a log without its rows, ``None`` where the book has no such log."""
        if log_id is None or not _ID.fullmatch(log_id):
            return None
        return next((log for log in self.book.logs() if log.id == log_id), None)

    def sag(self, log_id: str) -> SagCheck:
        """Check the sag of a log."""
        return self._results.get(("sag", self._state(log_id)), lambda: check_sag(self.book.read_log(log_id)))

    def ride(self, log_id: str) -> RideSummary:
        """Summarise a ride."""
        return self._results.get(
            ("ride", self._state(log_id)), lambda: summarise_ride(self.book.read_log(log_id))
        )

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

    def motions(self, log_id: str) -> dict[End, EndMotion]:
        """Give the travel over time of the ends that were measured."""
        return self._motions.get(self._state(log_id), lambda: _motions(self.book.read_log(log_id)))

    def _state(self, log_id: str) -> tuple[object, ...]:
        path = self.book.log_path(log_id)
        beside = sorted(path.parent.glob(f"{path.stem}.*"))
        return (log_id, *((file.name, file.stat().st_mtime_ns, file.stat().st_size) for file in beside))


def _motions(log: Log) -> dict[End, EndMotion]:
    found = {end: end_motion(log, end) for end in End}
    return {end: motion for end, motion in found.items() if motion is not None}
