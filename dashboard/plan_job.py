"""A lowering plan from a job of the book: a sag check, a ride of the same setup, the rider, what was kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Protocol

from analysis.kept_plan import keep
from analysis.plan import PlanRequest
from analysis.plan_request import request_for
from analysis.plan_results import Plan
from analysis.results import SagCheck
from analysis.ride import summarise_ride
from analysis.ride_results import RideSummary
from analysis.sag import check_sag
from ingest.book import Book
from ingest.job_edit import with_kept_plan
from ingest.log import Kind, Log
from ingest.records import Job, KeptPlan
from ingest.version import VERSION


class Worked(Protocol):
    """Who works out what a log says: `dashboard.answers.Answers` remembers it, `FromBook` does it anew."""

    def logs(self, job_id: str | None = None) -> list[Log]:
        """Give the headers of a job's logs, newest first."""

    def sag(self, log_id: str) -> SagCheck:
        """Check the sag of a log."""

    def ride(self, log_id: str) -> RideSummary:
        """Summarise a ride."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FromBook:
    """Works everything out from the book, each time it is asked."""

    book: Book

    def logs(self, job_id: str | None = None) -> list[Log]:
        """Give the headers of a job's logs, newest first."""
        return self.book.logs(job_id)

    def sag(self, log_id: str) -> SagCheck:
        """Check the sag of a log."""
        return check_sag(self.book.read_log(log_id))

    def ride(self, log_id: str) -> RideSummary:
        """Summarise a ride."""
        return summarise_ride(self.book.read_log(log_id))


def request_of_job(
    book: Book,
    job_id: str,
    *,
    setup_name: str | None = None,
    ride_id: str | None = None,
    worked: Worked | None = None,
) -> PlanRequest:
    """Read what a plan needs.

    The newest sag check of the setup named counts; without a name that of the setup a kept plan was made
    from, else of the setup the job began with. ``ride_id`` names a ride of the bike in that state; without it
    the newest ride of the same setup is taken.
    """
    worked = worked or FromBook(book=book)
    job, headers = book.job(job_id), worked.logs(job_id)
    sag = sag_log_of(job, headers, setup_name)
    if ride_id is None and sag is not None:
        parts = None if sag.setup is None else sag.setup.parts_alone()
        rides = (one for one in headers if one.kind is Kind.RIDE)
        same = (one.id for one in rides if (one.setup and one.setup.parts_alone()) == parts)
        ride_id = next(same, None)
    ride = None if ride_id is None else worked.ride(ride_id)
    found = request_for(job, sag, None if sag is None else worked.sag(sag.id), ride, VERSION)
    return replace(found, setup=_setup_of(sag), said_before=_done_already(job, headers, sag))


def sag_log_of(job: Job, headers: Sequence[Log], setup_name: str | None = None) -> Log | None:
    """Choose the sag check a plan is made from, ``None`` where there is none; headers newest first.

    Boards and wanted lowering belong to the bike as it came, so without a name and a kept plan the setup of
    the oldest sag check counts, with its newest check.
    """
    checks = [header for header in headers if header.kind is Kind.SAG]
    if setup_name is None and job.kept is not None:
        setup_name = job.kept.setup
    if setup_name is None and checks:
        setup_name = _setup_of(checks[-1])
    return next((one for one in checks if _setup_of(one) == setup_name), None)


def _setup_of(log: Log | None) -> str | None:
    return None if log is None or log.setup is None else log.setup.name


def _done_already(job: Job, headers: Sequence[Log], sag: Log | None) -> tuple[str, ...]:
    """Say that the newest sag check is of another setup: the work that is planned seems done."""
    came = _setup_of(sag)
    done = _setup_of(next((header for header in headers if header.kind is Kind.SAG), None))
    if came is None or done is None or done == came:
        return ()
    return (
        f"This plans from setup {came!r}, but sag was checked under {done!r} since: the work seems done. "
        f"`flatfoot prove --job {job.id}` holds the plan against it; `--setup` plans from another setup.",
    )


def keep_plan(book: Book, job_id: str, plan: Plan, name: str, setup: str | None) -> KeptPlan:
    """Write a way of a plan into the job file, with what it promises; `UsageError` if it is refused."""
    kept = keep(plan, name, setup=setup, kept=f"{datetime.now():%Y-%m-%d %H:%M}")
    book.change_job(job_id, partial(with_kept_plan, kept=kept))
    return kept
