"""The proof of a job of the book: its plan before the work, and what was measured on both sides of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.compare import compare_rides
from analysis.compare_results import Comparison
from analysis.plan import plan
from analysis.plan_results import Option, Plan
from analysis.proof import Visit, prove
from analysis.proof_results import Proof
from analysis.results import Quantity
from analysis.sag import check_sag
from dashboard.plan_job import request_of_job
from ingest.book import Book
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Kind, Log
from ingest.records import Job


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
) -> ProvedJob:
    """Hold the plan of a job against its logs.

    Parameters
    ----------
    book : Book
    job_id : str
    before, after : str, optional
        Names of the setups before and after the work; the first and the last of the job without.
    option : str, optional
        Name of the option that was carried out, or its number in the plan; without it the one that leaves
        the travels of the setup after.
    taped_seat_drop_mm : Quantity, optional
        Floor to seat with the rider aboard, before less after.

    Raises
    ------
    UsageError
        The job has one setup only, or the plan no such option.
    CannotAnswer
        No sag check or ride of the setup after the work.
    """
    job = book.job(job_id)
    was, now = _sides(job, before, after)
    request = request_of_job(book, job_id, setup_name=was)
    found = plan(request)
    done = _name_of(found, option)
    headers = book.logs(job_id)
    sag = [_newest_sag(book, headers, name) for name in (was, now)]
    comparison = _comparison(book, headers, was, now)
    visits = [
        Visit(sag=None if log is None else check_sag(log), rides=rides)
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
    )
    carried_out = next(one for one in found.options if one.name == proof.option)
    return ProvedJob(before=was, after=now, option=carried_out, proof=proof)


def _sides(job: Job, before: str | None, after: str | None) -> tuple[str, str]:
    names = [setup.name for setup in job.setups]
    was = before if before is not None else names[0] if names else None
    now = after if after is not None else names[-1] if names else None
    if was is None or now is None or was == now:
        raise UsageError(
            f"job {job.id} needs two setups, before and after the work; it has {', '.join(names) or 'none'}"
        )
    for name in (was, now):
        if name not in names:
            raise UsageError(f"job {job.id} has no setup {name!r}; it has {', '.join(names)}")
    return was, now


def _newest_sag(book: Book, headers: Sequence[Log], setup: str) -> Log | None:
    of_setup = (one.id for one in headers if one.kind is Kind.SAG and one.setup and one.setup.name == setup)
    newest = next(of_setup, None)
    return None if newest is None else book.read_log(newest)


def _comparison(book: Book, headers: Sequence[Log], was: str, now: str) -> Comparison | None:
    """Compare all rides of both setups; ``None`` where one side has none."""
    sides = [
        [one.id for one in headers if one.kind is Kind.RIDE and one.setup and one.setup.name == name]
        for name in (was, now)
    ]
    if not all(sides):
        return None
    before, after = ([book.read_log(one) for one in side] for side in sides)
    return compare_rides(before, after)


def _name_of(found: Plan, option: str | None) -> str | None:
    """Take a number of the plan's list for the name behind it."""
    if option is None or any(one.name == option for one in found.options):
        return option
    if option.isdecimal() and 1 <= int(option) <= len(found.options):
        return found.options[int(option) - 1].name
    names = ", ".join(f"{number} {one.name!r}" for number, one in enumerate(found.options, 1))
    raise UsageError(f"the plan has no option {option!r}: it has {names}")
