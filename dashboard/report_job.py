"""All that the customer's report of a job says, gathered from the book once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.as_done import Done, State, as_done, less
from analysis.compare_results import Comparison
from analysis.effective import effective_bike
from analysis.how_much import SagNow
from analysis.plan_views import plan_views
from analysis.results import Quantity, SagCheck
from analysis.ride_results import RideSummary
from analysis.side_geometry import SideView
from analysis.stop_stayed import full_bump_stayed
from analysis.wanted import from_stack
from dashboard.answers import Answers
from dashboard.compared import Side
from dashboard.proof_job import ProvedJob, proof_of_job
from dashboard.shell import MOST_COMPARED, setup_name
from ingest.errors import CannotAnswer, FlatfootError, UsageError
from ingest.log import Kind, Log
from ingest.records import Bike, End, Job, Setup

NOT_SAID = "which way of it was carried out was not said, and none leaves the travels that were fitted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What may be said beside the job: which setups, which option of the plan, what a tape read."""

    before: str | None = None
    after: str | None = None
    option: str | None = None
    taped_seat_drop_mm: Quantity | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Visited:
    """One side of the work: its setup by name, the sag check that counts, and what the rides did."""

    name: str
    setup: Setup | None
    bike: Bike
    sag_log: Log | None
    side: Side

    @property
    def logs(self) -> tuple[Log, ...]:
        """The logs this side rests on."""
        return (*(() if self.sag_log is None else (self.sag_log,)), *self.side.logs)

    @property
    def now(self) -> Bike:
        """The bike under this setup."""
        return effective_bike(self.bike, self.setup)

    @property
    def state(self) -> State:
        """What the analysis of the work takes."""
        return State(bike=self.bike, setup=self.setup, sag=self.side.sag)

    @property
    def measured(self) -> bool:
        """Whether anything was measured on this side."""
        return bool(self.logs)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Reported:
    """A job as its report tells it.

    ``after`` is ``None`` while the job has one setup only. ``not_compared`` and ``not_proved`` say why there
    is no comparison of rides, no plan held against the measurement. ``options`` are the names in the plan.
    """

    shop: str
    job: Job
    before: Visited
    after: Visited | None
    done: Done | None = None
    comparison: Comparison | None = None
    not_compared: str | None = None
    proved: ProvedJob | None = None
    not_proved: str | None = None
    views: tuple[SideView, SideView] | None = None
    taped_seat_drop_mm: Quantity | None = None

    @property
    def logs(self) -> tuple[Log, ...]:
        """All logs the report rests on, the oldest first."""
        both = (*self.before.logs, *(() if self.after is None else self.after.logs))
        return tuple(sorted(both, key=lambda log: (log.started, log.id)))

    @property
    def amendments(self) -> tuple[str, ...]:
        """What was amended in the logs it rests on, and in which."""
        found: list[SagCheck | RideSummary] = []
        for one in (self.before, self.after):
            if one is not None:
                found += [] if one.side.sag is None else [one.side.sag]
                found += one.side.rides
        return tuple(f"{text} of {result.log_id}" for result in found for text in result.amendments)

    @property
    def last(self) -> Visited:
        """The newest state that was measured."""
        return self.after if self.after is not None and self.after.measured else self.before

    @property
    def seat_drop_mm(self) -> Quantity | None:
        """How much lower the seat is: by tape, else from sags and parts."""
        if self.taped_seat_drop_mm is not None:
            return self.taped_seat_drop_mm
        return None if self.done is None else self.done.seat_drop_mm

    @property
    def short_of_wanted_mm(self) -> Quantity | None:
        """What the seat lacks of the lowering that was asked for, negative where it is lower still.

        ``None`` where it was asked for at another sag than that of before: sides then do not compare.
        """
        job, drop = self.job, self.seat_drop_mm
        boards = (job.front_sag_at_boards_mm, job.rear_sag_at_boards_mm)
        if job.wanted_lowering_mm is None or drop is None or boards != (None, None):
            return None
        return less(from_stack(job.wanted_lowering_mm).amount_mm, drop)

    @property
    def room_before_mm(self) -> tuple[float | None, float | None]:
        """Room at full bump before the work, front and rear."""
        front, rear = (self.before.now.suspension(end) for end in End)
        return (
            None if front is None else front.full_bump_room_mm,
            None if rear is None else rear.full_bump_room_mm,
        )


def report_of_job(answers: Answers, job: Job, asked: Asked | None = None) -> Reported:
    """Gather the report of a job.

    Raises
    ------
    UsageError
        The job has no such setup.
    CannotAnswer
        Nothing was measured yet.
    """
    asked = asked or Asked()
    logs = answers.logs(job.id)
    if not logs:
        raise CannotAnswer(
            f"job {job.id}: nothing was measured yet, so there is nothing to report: check sag"
        )
    was, now = _names(job, logs, asked)
    before = _visited(answers, job, logs, was)
    after = None if now is None else _visited(answers, job, logs, now)
    shown = Reported(
        shop=answers.book.shop,
        job=job,
        before=before,
        after=after,
        taped_seat_drop_mm=asked.taped_seat_drop_mm,
    )
    if after is None:
        return shown
    return _both_sides(answers, shown, after, asked)


def _names(job: Job, logs: Sequence[Log], asked: Asked) -> tuple[str, str | None]:
    """Choose the setups: the first of the job, and the last one that was measured."""
    names = [setup.name for setup in job.setups] or list(dict.fromkeys(map(setup_name, reversed(logs))))
    for name in (asked.before, asked.after):
        if name is not None and name not in names:
            raise UsageError(f"job {job.id} has no setup {name!r}; it has {', '.join(names)}")
    measured = {setup_name(log) for log in logs}
    planned_from = None if job.kept is None else job.kept.setup
    was = asked.before or (planned_from if planned_from in names else names[0])
    others = [name for name in names if name != was]
    now = asked.after or next((name for name in reversed(others) if name in measured), None)
    now = now or (others[-1] if others else None)
    if now == was:
        raise UsageError(f"setup {was!r} stands on both sides: name another one for after the work")
    return was, now


def _visited(answers: Answers, job: Job, logs: Sequence[Log], name: str) -> Visited:
    of_setup = [log for log in logs if setup_name(log) == name]
    sag_log = next((log for log in of_setup if log.kind is Kind.SAG), None)
    rides = tuple(log for log in of_setup if log.kind is Kind.RIDE)[:MOST_COMPARED]
    setup = next((one for one in job.setups if one.name == name), None)
    return Visited(
        name=name,
        setup=setup,
        bike=job.bike,
        sag_log=sag_log,
        side=Side(
            logs=rides,
            rides=tuple(answers.ride(log.id) for log in rides),
            sag=None if sag_log is None else answers.sag(sag_log.id),
        ),
    )


def _both_sides(answers: Answers, shown: Reported, after: Visited, asked: Asked) -> Reported:
    comparison, not_compared = _comparison(answers, shown.before, after)
    rides = shown.before.side.logs, after.side.logs
    stayed = tuple(end for end in End if all(rides) and full_bump_stayed(rides[0][0], rides[1][0], end))
    done = as_done(shown.before.state, after.state, full_bump_stayed=stayed)
    proved, not_proved = _proof(answers, shown, after, done, asked)
    return replace(
        shown,
        done=done,
        comparison=comparison,
        not_compared=not_compared,
        proved=proved,
        not_proved=not_proved,
        views=_views(shown.before, done),
    )


def _views(before: Visited, done: Done) -> tuple[SideView, SideView] | None:
    """Lay both states out to scale; ``None`` where the bike file or the sags say too little."""
    state = before.state
    sags = {end: SagNow(rider=state.rider(end), unladen=state.unladen(end)) for end in End}
    try:
        return plan_views(before.now, sags, done.option)
    except CannotAnswer:
        return None


def _comparison(answers: Answers, before: Visited, after: Visited) -> tuple[Comparison | None, str | None]:
    for side, one in (("before", before), ("after", after)):
        if not one.side.logs:
            return None, f"no ride {side} the work"
    ids = [[log.id for log in one.side.logs] for one in (before, after)]
    try:
        return answers.comparison(ids[0], ids[1]), None
    except FlatfootError as why:
        return None, str(why)


def _proof(
    answers: Answers, shown: Reported, after: Visited, done: Done, asked: Asked
) -> tuple[ProvedJob | None, str | None]:
    """Hold the plan against the work; without an option that was said, kept or fits, say why not."""
    if not after.measured:
        return None, "nothing was measured after the work"
    try:
        return proof_of_job(
            answers.book,
            shown.job.id,
            before=shown.before.name,
            after=after.name,
            option=asked.option,
            taped_seat_drop_mm=asked.taped_seat_drop_mm,
            seat_drop_mm=done.seat_drop_mm,
            worked=answers,
        ), None
    except FlatfootError as why:
        if asked.option is not None:
            raise
        return None, NOT_SAID if isinstance(why, UsageError) else str(why)
