"""The proof of a job of the book: its plan before the work, and what was measured on both sides of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from analysis.compare import compare_rides
from analysis.compare_results import Comparison
from analysis.kept_plan import as_promised, option_of
from analysis.plan import plan
from analysis.plan_results import Option, Plan
from analysis.proof import Visit, prove
from analysis.proof_results import Proof
from analysis.results import Quantity
from dashboard.plan_job import FromBook, Worked, request_of_job
from ingest.book import Book
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Kind, Log
from ingest.records import Job


class Compares(Worked, Protocol):
    """Who works out comparisons too."""

    def comparison(self, before: Sequence[str], after: Sequence[str]) -> Comparison:
        """Compare rides before with rides after."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AllFromBook(FromBook):
    """Works everything out from the book, each time it is asked."""

    def comparison(self, before: Sequence[str], after: Sequence[str]) -> Comparison:
        """Compare rides before with rides after."""
        was, now = ([self.book.read_log(one) for one in side] for side in (before, after))
        return compare_rides(was, now)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvedJob:
    """The proof, the option it is about, and the setups on both sides."""

    before: str
    after: str
    option: Option
    proof: Proof


def proof_of_job(
    book: Book,
    job_id: str,
    *,
    before: str | None = None,
    after: str | None = None,
    option: str | None = None,
    taped_seat_drop_mm: Quantity | None = None,
    seat_drop_mm: Quantity | None = None,
    worked: Compares | None = None,
) -> ProvedJob:
    """Hold the plan of a job against its logs.

    Parameters
    ----------
    book : Book
    job_id : str
    before, after : str, optional
        Names of the setups before and after the work; without, the one a kept plan was made from, else the
        first of the job, and the last.
    option : str, optional
        Name of the option that was carried out, or its number in the plan; without it the kept one with what
        it promised, else the one that leaves the travels of the setup after.
    taped_seat_drop_mm : Quantity, optional
        Floor to seat with the rider aboard, before less after.
    seat_drop_mm : Quantity, optional
        The same from sags and the parts that were fitted (`analysis.as_done`).
    worked : Compares, optional
        Who works out sag, rides and their comparison; from the book without.

    Raises
    ------
    UsageError
        The job has one setup only, or the plan no such option.
    CannotAnswer
        No sag check or ride of the setup after the work.
    """
    worked = worked or AllFromBook(book=book)
    job, headers = book.job(job_id), worked.logs(job_id)
    was, now = sides(job, before, after)
    request = request_of_job(book, job_id, setup_name=was, worked=worked)
    kept = job.kept if option is None and job.kept is not None and job.kept.setup in (None, was) else None
    found = plan(request if kept is None else replace(request, hardware_mm=kept.hardware_mm))
    done = option_name(found, option if kept is None else kept.option)
    found = found if kept is None else as_promised(found, kept)
    sag = [newest_sag(headers, name) for name in (was, now)]
    comparison = _comparison(worked, headers, was, now)
    visits = [
        Visit(sag=None if log is None else worked.sag(log.id), rides=rides)
        for log, rides in zip(
            sag, ((), ()) if comparison is None else (comparison.before, comparison.after), strict=True
        )
    ]
    if visits[1].sag is None and not visits[1].rides and taped_seat_drop_mm is None:
        raise CannotAnswer(
            f"job {job.id}: no sag check of the setup {now!r} is in the book: record one after the work"
        )
    proof = prove(
        found,
        visits[0],
        visits[1],
        bike=request.bike,
        option=done,
        comparison=comparison,
        taped_seat_drop_mm=taped_seat_drop_mm,
        seat_drop_mm=seat_drop_mm,
    )
    carried_out = next(one for one in found.options if one.name == proof.option)
    return ProvedJob(before=was, after=now, option=carried_out, proof=proof)


def sides(job: Job, before: str | None, after: str | None) -> tuple[str, str]:
    """Name the setups before and after the work; `UsageError` where the job has one only."""
    names = [setup.name for setup in job.setups]
    planned = None if job.kept is None else job.kept.setup
    was = before or (planned if planned in names else None) or (names[0] if names else None)
    now = after if after is not None else names[-1] if names else None
    if was is None or now is None or was == now:
        raise UsageError(
            f"job {job.id} needs two setups, before and after the work; it has {', '.join(names) or 'none'}"
        )
    for name in (was, now):
        if name not in names:
            raise UsageError(f"job {job.id} has no setup {name!r}; it has {', '.join(names)}")
    return was, now


def newest_sag(headers: Sequence[Log], setup: str) -> Log | None:
    """Give the newest sag check of a setup."""
    of_setup = (one for one in headers if one.kind is Kind.SAG and one.setup and one.setup.name == setup)
    return next(of_setup, None)


def _comparison(worked: Compares, headers: Sequence[Log], was: str, now: str) -> Comparison | None:
    """Compare all rides of both setups; ``None`` where one side has none."""
    before, after = (
        [one.id for one in headers if one.kind is Kind.RIDE and one.setup and one.setup.name == name]
        for name in (was, now)
    )
    return worked.comparison(before, after) if before and after else None


def option_name(found: Plan, option: str | None) -> str | None:
    """Take a number of the plan's list for the name behind it; `UsageError` where there is none."""
    return None if option is None else option_of(found, option).name
