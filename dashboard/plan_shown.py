"""What the page of a plan shows: the plan for one amount from parts, and the way that is chosen."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from analysis.plan import MOST_HARDWARE_MM, PlanRequest, plan
from analysis.plan_results import Option, Plan
from analysis.plan_views import plan_views, view_now
from analysis.side_geometry import SideView
from dashboard.answers import Answers
from dashboard.plan_job import request_of_job, sag_log_of
from ingest.errors import CannotAnswer
from ingest.log import Log
from ingest.records import Job

USUAL_MOST_MM = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One state of the page. ``amount_mm`` is what parts are to give, ``None`` where it cannot be told."""

    job: Job
    logs: list[Log]
    sag: Log | None
    request: PlanRequest
    plan: Plan
    amount_mm: float | None
    option: Option | None

    @property
    def setup(self) -> str | None:
        """Name of the setup the plan is made from."""
        return self.sag.setup.name if self.sag is not None and self.sag.setup is not None else None

    @property
    def most_mm(self) -> float:
        """Where the slider ends."""
        needed = 10.0 * math.ceil(((self.amount_mm or 0.0) + 15.0) / 10.0)
        return min(max(USUAL_MOST_MM, needed), MOST_HARDWARE_MM)


def shown(
    answers: Answers,
    job: Job,
    *,
    setup: str | None = None,
    amount_mm: float | None = None,
    way: str | None = None,
) -> Shown:
    """Work out the page: without an amount for the kept one or what is left, without a way for the first.

    `UsageError` where the amount is nothing that parts can give.
    """
    logs = answers.logs(job.id)
    request = request_of_job(answers.book, job.id, setup_name=setup, worked=answers)
    sag = sag_log_of(job, logs, setup)
    if amount_mm is None and job.kept is not None and setup in (None, job.kept.setup):
        amount_mm = job.kept.hardware_mm
    found = plan(replace(request, hardware_mm=amount_mm))
    if amount_mm is None and found.hardware_lowering_mm is not None:
        amount_mm = float(round(found.hardware_lowering_mm))
        found = plan(replace(request, hardware_mm=amount_mm))
    return Shown(
        job=job,
        logs=logs,
        sag=sag,
        request=request,
        plan=found,
        amount_mm=None if found.hardware_lowering_mm is None else amount_mm,
        option=_chosen(found, way, None if job.kept is None else job.kept.option),
    )


def _chosen(found: Plan, *names: str | None) -> Option | None:
    """Take the way that is named, else the first that serves, else the first that is allowed."""
    for name in names:
        for one in found.options:
            if one.name == name:
                return one
    allowed = [one for one in found.options if one.allowed]
    return next((one for one in allowed if one.serves), allowed[0] if allowed else None)


def views(state: Shown) -> tuple[SideView, SideView | None, str]:
    """Give the bike before, and after where that is known, and the state it stands in.

    `CannotAnswer` where its geometry is not known.
    """
    if state.option is not None:
        try:
            before, after = plan_views(state.request.bike, state.request.sags, state.option)
        except CannotAnswer:
            pass
        else:
            return before, after, "rider aboard"
    now, standing = view_now(state.request.bike, state.request.sags)
    return now, None, standing
