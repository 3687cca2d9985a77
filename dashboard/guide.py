"""Leads through a sag check while it is recorded: watches the wheels, takes the readings, keeps the list.

The page and the command line both use it. What was taken stands as marks in the recording's journal at
once; the guide holds the same list for whoever looks, in however many windows.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.effective import effective_bike
from analysis.holding import LEAST_S, Holding, Verdict, Watch, holding, judge
from analysis.phases import RIDER, TOPPED_OUT, UNLADEN
from analysis.position import Converter
from analysis.procedure import Row, Step, Taken, disagreement_mm, next_step, plan, rows, usual_mm
from analysis.stillness import Track
from analysis.targets import Band, target_sag
from dashboard.commands.live_line import wheels
from ingest.errors import CannotAnswer, UsageError
from ingest.live_view import RECENT_S, Live
from ingest.recorder import Recorder
from ingest.records import Bike, End, Setup

LOOK_EVERY_S = 0.08
MOST_ROUNDS = 9

CHECKLIST = (
    "Both brakes off",
    "Level floor, wheels free to roll",
    "In neutral, off the stand",
    "A helper holds the bike upright",
)
"""What no sensor can see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """How a check is to go: how often each load is read, and whether both wheels hang at the same time."""

    rounds: int = 1
    apart: bool = False
    confirmed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.rounds <= MOST_ROUNDS:
            raise UsageError(f"{self.rounds} repeats: a check takes 1 to {MOST_ROUNDS}")

    @property
    def notes(self) -> str:
        """What the log keeps of the checklist."""
        no = [item for item in CHECKLIST if item not in self.confirmed]
        yes = [item for item in CHECKLIST if item in self.confirmed]
        said = [(name, items) for name, items in (("confirmed", yes), ("not confirmed", no)) if items]
        return ". ".join(f"{name}: {'; '.join(items).lower()}" for name, items in said)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndView:
    """One end, mm from topped out: where it is, where it was in the last 3 s, what was read, the target."""

    end: End
    travel_mm: float
    now_mm: float | None
    recent_mm: tuple[float, float] | None
    unladen_mm: float | None
    rider_mm: float | None
    target_mm: Band | None
    zeroed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A check at one moment. ``version`` grows with each reading taken, struck or asked for."""

    live: Live
    rows: tuple[Row, ...]
    step: Step | None
    last: Step | None
    verdict: Verdict | None
    disagrees: tuple[End, float] | None
    ends: tuple[EndView, ...]
    rounds: int
    confirmed: tuple[str, ...]
    version: int

    @property
    def answered(self) -> bool:
        """Say whether all that the sag is worked out from has been taken."""
        return self.step is None or self.step.closing


@dataclass(slots=True, kw_only=True)
class _Reading:
    step: Step
    t_s: float
    counts: Mapping[End, float]


class Guide:
    """One guided check. Safe to ask from any thread; somebody has to call `look` ten times a second.

    ``mark`` writes a mark into the recording.
    """

    def __init__(
        self, recorder: Recorder, bike: Bike, setup: Setup | None, wish: Wish, mark: Callable[[str], None]
    ) -> None:
        self._recorder = recorder
        self._bike = effective_bike(bike, setup)
        self._tools = {end: (channel, tool) for end, channel, tool in wheels(bike, setup, {})}
        self._tools = {end: tool for end, tool in self._tools.items() if self._bike.suspension(end)}
        if not self._tools:
            raise CannotAnswer("the bike file has no sensor at either end: a sag check needs one or both")
        self._wish = wish
        self._apart = tuple(self._tools) if wish.apart and len(self._tools) > 1 else ()
        self._rounds = wish.rounds
        self._mark = mark
        self._lock = threading.Lock()
        self._watch = Watch()
        self._readings: list[_Reading] = []
        self._since_s: float | None = None
        self._asked_s: float | None = None
        self._verdict: Verdict | None = None
        self._version = 0

    def look(self) -> View:
        """Look at the wheels; take the reading if it is steady."""
        with self._lock:
            live = self._recorder.live()
            self._watch.add(live.recent)
            step = self._step()
            self._verdict = None
            if step is not None and live.status == "recording":
                self._verdict = judge(step, self._holdings())
                if self._verdict.take:
                    self._take(step)
            return self._view(live)

    def view(self) -> View:
        """Give the state without taking anything."""
        with self._lock:
            return self._view(self._recorder.live())

    def take(self) -> None:
        """Take the reading as it is."""
        with self._lock:
            step = self._step()
            if step is None:
                raise UsageError("all readings are taken: stop, or take another round")
            self._watch.add(self._recorder.live().recent)
            self._take(step)

    def again(self) -> None:
        """Strike the last reading and ask for it again."""
        with self._lock:
            if not self._readings:
                raise UsageError("no reading was taken yet, so none can be taken again")
            self._mark(self._readings[-1].step.again_mark)
            del self._readings[-1]
            self._turn()

    def another_round(self) -> None:
        """Ask for both loads once more from either side."""
        with self._lock:
            self._rounds = replace(self._wish, rounds=self._rounds + 1).rounds
            self._turn()

    # From here on with the lock held.

    def _take(self, step: Step) -> None:
        counts = {
            end: self._level(channel) for end, (channel, _) in self._tools.items() if step.concerns(end)
        }
        known = {end: level for end, level in counts.items() if np.isfinite(level)}
        if not known:
            raise UsageError("nothing comes from the board, so nothing can be taken")
        self._mark(step.mark)
        t_s = float(self._watch.channel(0)[0][-1])
        self._readings.append(_Reading(step=step, t_s=t_s, counts=known))
        self._since_s = t_s
        self._watch.forget_before(t_s - RECENT_S)
        self._turn()

    def _turn(self) -> None:
        self._version += 1
        self._verdict = None
        times = self._watch.channel(0)[0]
        self._asked_s = float(times[-1]) if times.size else None

    def _level(self, channel: int) -> float:
        t_s, counts = self._watch.channel(channel)
        return float(np.median(counts[t_s > t_s[-1] - LEAST_S])) if t_s.size else float("nan")

    def _steps(self) -> tuple[Step, ...]:
        return plan(rounds=self._rounds, apart=self._apart)

    def _step(self) -> Step | None:
        return next_step(self._steps(), self._taken())

    def _zero(self, end: End) -> float | None:
        zeros = [
            one.counts[end]
            for one in self._readings
            if one.step.name == TOPPED_OUT and not one.step.closing and end in one.counts
        ]
        return sum(zeros) / len(zeros) if zeros else None

    def _tool(self, end: End) -> Converter:
        tool, zero = self._tools[end][1], self._zero(end)
        return tool if zero is None else replace(tool, zero_count=zero)

    def _taken(self) -> list[Taken]:
        tools = {end: self._tool(end) for end in self._tools}
        return [
            Taken(
                step=one.step,
                t_s=one.t_s,
                mm={
                    end: float(tools[end].positions(np.array([counts])).travel_mm[0])
                    for end, counts in one.counts.items()
                },
            )
            for one in self._readings
        ]

    def _track(self, end: End) -> Track:
        t_s, counts = self._watch.channel(self._tools[end][0])
        return Track(t_s=t_s, mm=self._tool(end).positions(counts).travel_mm)

    def _holdings(self) -> dict[End, Holding | None]:
        return {end: holding(end, self._track(end), self._since_s, self._asked_s) for end in self._tools}

    def _view(self, live: Live) -> View:
        taken = self._taken()
        step = next_step(self._steps(), taken)
        more = bool(taken and step and step.mark == taken[-1].step.mark)
        return View(
            live=live,
            rows=rows(self._steps(), taken),
            step=step,
            last=taken[-1].step if taken else None,
            verdict=self._verdict,
            disagrees=disagreement_mm(taken) if more else None,
            ends=tuple(self._end_view(end, live, taken) for end in self._tools),
            rounds=self._rounds,
            confirmed=self._wish.confirmed,
            version=self._version,
        )

    def _end_view(self, end: End, live: Live, taken: list[Taken]) -> EndView:
        channel, _ = self._tools[end]
        suspension = self._bike.suspension(end)
        assert suspension is not None  # ends without one were left out
        target = target_sag(self._bike, end)
        counts = [row[channel] for _, row in live.recent if channel < len(row)]
        mm = self._tool(end).positions(np.asarray(counts, float)).travel_mm if counts else np.empty(0)
        there = mm[np.isfinite(mm)]
        newest = mm[-5:]
        return EndView(
            end=end,
            travel_mm=suspension.travel_mm,
            now_mm=float(newest.mean()) if newest.size and np.isfinite(newest).all() else None,
            recent_mm=(float(there.min()), float(there.max())) if there.size else None,
            unladen_mm=usual_mm(taken, end, UNLADEN),
            rider_mm=usual_mm(taken, end, RIDER),
            target_mm=None if target is None else target.in_mm(suspension.travel_mm),
            zeroed=self._zero(end) is not None,
        )
