"""Leading through a sag check at a terminal: one line that lives, one line for each thing that happened."""

from __future__ import annotations

from analysis.holding import Verdict, Why
from analysis.procedure import Row, Step
from dashboard import check_words
from dashboard.commands.screen import WIDTH, Screen
from dashboard.guide import CHECKLIST, LOOK_EVERY_S, Guide, View
from dashboard.units import Units, length, length_number, number
from ingest.errors import FlatfootError, UsageError
from ingest.recorder import Recorder

HOW = "Each reading takes itself. Enter = take it anyway; again, more, stop."
NO = ("n", "no")


def checklist(screen: Screen, *, everything: bool) -> tuple[str, ...]:
    """Ask what no sensor sees; give what was confirmed."""
    if everything:
        return CHECKLIST
    answers = {item: screen.ask(f"{item}? (Enter = yes, n = no) ") for item in CHECKLIST}
    return tuple(item for item, said in answers.items() if said is not None and said.lower() not in NO)


def walk(recorder: Recorder, guide: Guide, screen: Screen, units: Units) -> None:
    """Lead on until all is taken, somebody stops it, or the recording ends."""
    told = _Told(screen, units)
    screen.say(HOW)
    try:
        while not recorder.wait(LOOK_EVERY_S):
            view = guide.look()
            told.tell(view)
            if view.step is None:
                break
            screen.show(live_line(view, units))
            if any(_obey(line, guide, screen) for line in screen.lines()):
                break
    except KeyboardInterrupt:
        pass  # the way to end a recording
    screen.leave()


def _obey(line: str, guide: Guide, screen: Screen) -> bool:
    """Do what was typed; say whether to stop."""
    orders = {"": guide.take, "again": guide.again, "more": guide.another_round}
    if line.lower() == "stop":
        return True
    try:
        order = orders.get(line.lower())
        if order is None:
            raise UsageError(f"{line}: type again, more or stop; Enter alone takes the reading")
        order()
    except FlatfootError as problem:
        screen.say(str(problem))
    return False


class _Told:
    """What was printed already, so that each thing is said once."""

    def __init__(self, screen: Screen, units: Units) -> None:
        self._screen = screen
        self._units = units
        self._version: int | None = None
        self._done: tuple[Row, ...] = ()
        self._message: str | None = None

    def tell(self, view: View) -> None:
        """Say what has happened since the last time, and what to do next."""
        if view.live.message is not None and view.live.message != self._message:
            self._screen.say(view.live.message)
        self._message = view.live.message
        if view.version == self._version:
            return
        done = tuple(row for row in view.rows if row.taken is not None)
        self._tell_done(done, view)
        self._version, self._done = view.version, done
        off = check_words.disagreement(view, self._units)
        for text in (off, None if view.step is None else _next(view, view.step)):
            if text is not None:
                self._screen.say(text)

    def _tell_done(self, done: tuple[Row, ...], view: View) -> None:
        times = {row.taken.t_s for row in done if row.taken}
        before = {row.taken.t_s for row in self._done if row.taken}
        for row in self._done:
            if row.taken is not None and row.taken.t_s not in times:
                self._screen.say(f"  does not count: {check_words.title(row.step, rounds=view.rounds)}")
        for row in done:
            if row.taken is not None and row.taken.t_s not in before:
                name = check_words.title(row.step, rounds=view.rounds)
                self._screen.say(f"  taken: {name}: {check_words.read_values(row.taken, self._units)}")


def _next(view: View, step: Step) -> str:
    place = check_words.progress(view).removeprefix("reading ")
    return f"{place}: {check_words.instruction(step)}\n  {check_words.beside(step)}"


def live_line(view: View, units: Units = Units.MM) -> str:
    """Say in at most 79 columns where the wheels are and whether they hold still."""
    parts = [check_words.progress(view).removeprefix("reading ")]
    parts += [f"{end.end} {length_number(end.now_mm, units):>5}" for end in view.ends]
    parts[-1] += f" {units}"
    lost = view.live.lost_samples
    if lost:
        parts.append(f"{lost} lost")
    if view.live.status != "recording":
        parts.append(view.live.status)
    elif view.verdict is not None:
        parts.append(_brief(view.verdict, units))
    return "  ".join(parts)[:WIDTH]


def _brief(verdict: Verdict, units: Units) -> str:
    """Say how it stands in few words."""
    if verdict.why is Why.SETTLING and abs(verdict.creep_mm) >= 0.1:
        way = "down" if verdict.creep_mm > 0 else "up"
        return f"settling: creeping {way} {length(abs(verdict.creep_mm), units)}/s"
    if verdict.why is Why.HOLD:
        return f"steady: takes itself in {number(verdict.left_s)} s"
    waits = {
        Why.NOT_MOVED: "has not moved",
        Why.OTHER_SIDE: "came the other way",
        Why.NOT_LIFTED: "not seen to come up",
    }
    if verdict.why in waits:
        return f"waiting: {verdict.end} {waits[verdict.why]}"
    return verdict.word.value
