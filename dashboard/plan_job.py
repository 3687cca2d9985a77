"""A lowering plan from a job of the book: newest sag check, a ride of the same setup, the rider."""

from __future__ import annotations

from analysis.plan import PlanRequest
from analysis.plan_request import request_for
from analysis.ride import summarise_ride
from analysis.sag import check_sag
from ingest.book import Book
from ingest.log import Kind
from ingest.version import VERSION


def request_of_job(
    book: Book, job_id: str, *, setup_name: str | None = None, ride_id: str | None = None
) -> PlanRequest:
    """Read what a plan needs.

    The newest sag check counts, or the newest of the setup named. ``ride_id`` names a ride of the bike in
    that state; without it the newest ride of the same setup is taken.
    """
    job = book.job(job_id)
    headers = book.logs(job_id)
    checks = (header for header in headers if header.kind is Kind.SAG)
    sag = next((one for one in checks if setup_name in (None, one.setup and one.setup.name)), None)
    log = None if sag is None else book.read_log(sag.id)
    if ride_id is None and sag is not None:
        same = (one.id for one in headers if one.kind is Kind.RIDE and one.setup == sag.setup)
        ride_id = next(same, None)
    ride = None if ride_id is None else summarise_ride(book.read_log(ride_id))
    return request_for(job, log, None if log is None else check_sag(log), ride, VERSION)
