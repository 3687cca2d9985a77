"""Walking through the reference positions with the board watched: each is taken once it stands still."""

from __future__ import annotations

import argparse
import queue
import sys
import tempfile
import threading
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, TextIO

from ingest.errors import BoardSilent, CannotAnswer, UsageError

if TYPE_CHECKING:
    from analysis.sensor_calibration import ReferencePoint, Way
    from analysis.steady import Standing
    from ingest.capture import StartNotes
    from ingest.live_view import Live
    from ingest.recorder import Recorder

LOOK_EVERY_S = 0.1
SILENT_S = 10.0
HANDS_FREE_S = 3.0
WIDTH = 79
HOW = "set each position, then Enter (`again`: the one before once more, `skip`: not this)"
HANDS_FREE_HOW = f"set each position and let it stand still for {HANDS_FREE_S:g} s"


def walk(args: argparse.Namespace, channel: int, positions: Sequence[float]) -> list[ReferencePoint]:
    """Take a reading at each position, up and, if asked for, down again; nothing stays on the disk."""
    from ingest.port import port_source
    from ingest.recorder import Recorder

    out = sys.stderr if args.json else sys.stdout
    with tempfile.TemporaryDirectory(prefix="flatfoot-calibrate-") as folder:
        source = port_source(args.port, args.baud)
        recorder = Recorder(source, Path(folder) / "capture", _notes(args.port, args.baud))
        with recorder:
            keys = None if args.hands_free else Keyboard(sys.stdin)
            return Walk(Watch(recorder, channel), keys, out).through(
                plan(positions, both_ways=args.both_ways)
            )


def _notes(port: str, baud: int) -> StartNotes:
    """Note what a recorder wants to know; this capture is thrown away."""
    from ingest.capture import StartNotes
    from ingest.log import Kind

    now = datetime.now(UTC).isoformat(timespec="seconds")
    return StartNotes(
        log_id="calibration", kind=Kind.SAG, bike_text="", zeros={}, port=port, baud=baud, started=now
    )


def plan(positions: Sequence[float], *, both_ways: bool) -> list[tuple[float, Way | None]]:
    """Put the positions in order: as given, and back again where both ways are wanted.

    The last one before turning round is taken once: it has no other way to be reached.
    """
    from analysis.sensor_calibration import Way

    if not both_ways:
        return [(mm, None) for mm in positions]
    rising = positions[-1] > positions[0]
    there, back = (Way.UP, Way.DOWN) if rising else (Way.DOWN, Way.UP)
    return [*((mm, there) for mm in positions), *((mm, back) for mm in reversed(positions[:-1]))]


class Keyboard:
    """The lines somebody types; ``None`` after the last one."""

    def __init__(self, source: TextIO) -> None:
        self._typed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        # Reading a line blocks, so it has a thread of its own; it ends with the program.
        threading.Thread(target=self._read, args=(source,), name="keyboard", daemon=True).start()

    def line(self) -> str | None:
        """Give the next line typed, ``None`` if there is none yet. `UsageError` when nobody can type."""
        if self._typed.empty():
            return None
        line = self._typed.get()
        if line is None:
            raise UsageError(
                "nobody is at the keyboard to say when a position is set: use --hands-free, "
                "or write the points down and use --from POINTS.csv"
            )
        return line

    def _read(self, source: TextIO) -> None:
        try:
            for line in source:
                self._typed.put(line.strip().lower())
        except (OSError, ValueError):
            pass  # nothing to type on
        self._typed.put(None)


class Watch:
    """One channel of the board, looked at now and then; complains when nothing comes any more."""

    def __init__(self, recorder: Recorder, channel: int, patience_s: float = SILENT_S) -> None:
        self._recorder = recorder
        self._channel = channel
        self._patience_s = patience_s
        self._samples = -1
        self._fresh_s = monotonic()

    def look(self, hold_s: float) -> tuple[Live, Standing | None]:
        """Wait a moment, then say how the reading stands; ``None`` while nothing new comes."""
        from analysis.steady import standing

        if self._recorder.wait(LOOK_EVERY_S) and self._recorder.error is not None:
            raise self._recorder.error
        live = self._recorder.live()
        if live.samples > self._samples:
            self._samples, self._fresh_s = live.samples, monotonic()
        elif monotonic() - self._fresh_s > self._patience_s:
            raise BoardSilent(f"the board has sent nothing for {self._patience_s:g} s: check cable and power")
        if live.counts is not None and self._channel >= len(live.counts):
            raise CannotAnswer(
                f"the sensor is on channel {self._channel}, but the board sends "
                f"{len(live.counts)} channel(s), counted from 0: correct channel in the bike file"
            )
        if live.status != "recording" or monotonic() - self._fresh_s > 4 * LOOK_EVERY_S:
            return live, None
        return live, standing([(t_s, counts[self._channel]) for t_s, counts in live.recent], hold_s)


class Walk:
    """The walk through the positions: asks, waits, takes, goes back where somebody says so."""

    def __init__(self, watch: Watch, keys: Keyboard | None, out: TextIO) -> None:
        self._watch = watch
        self._keys = keys
        self._out = out
        self._hold_s = HANDS_FREE_S * 0.9 if keys is None else 1.5
        self._on_screen = out.isatty()

    def through(self, places: Sequence[tuple[float, Way | None]]) -> list[ReferencePoint]:
        """Take every place in order; `CannotAnswer` where fewer than two were taken."""
        self._say(HANDS_FREE_HOW if self._keys is None else HOW)
        taken: dict[int, ReferencePoint] = {}
        index = 0
        while index < len(places):
            mm, way = places[index]
            before = taken[max(taken)] if taken else None
            answer = self._take(mm, way, before)
            if answer == "again" and taken:
                index = max(taken)
                del taken[index]
                continue
            if not isinstance(answer, str):
                taken[index] = answer
            index += 1
        if len(taken) < 2:
            raise CannotAnswer(f"{len(taken)} position(s) taken: two or more are needed; nothing was written")
        return list(taken.values())

    def _take(self, mm: float, way: Way | None, before: ReferencePoint | None) -> ReferencePoint | str:
        from analysis.sensor_calibration import ReferencePoint

        name = f"{mm:g} mm{f' {way}' if way else ''}"
        self._say(f"{name}:" if self._keys is None else f"set {name}, then Enter")
        wanted, said_same = self._keys is None, False
        while True:
            answer = self._keys.line() if self._keys is not None and not wanted else None
            if answer in ("again", "skip"):
                return answer
            wanted = wanted or answer is not None
            live, now = self._watch.look(self._hold_s)
            self._draw(name, live, now)
            if not wanted or now is None or not now.steady:
                continue
            if before is not None and before.mm != mm and _same(now, before):
                if not said_same:
                    self._say(f"  still at {before.mm:g} mm, where it was before: waiting for {name}")
                said_same = True
                continue
            self._say(f"  {name}: {now.counts:.1f} counts, spread {now.spread_counts:.1f}, steady: taken")
            return ReferencePoint(counts=now.counts, mm=mm, way=way)

    def _draw(self, name: str, live: Live, now: Standing | None) -> None:
        if self._on_screen:
            self._out.write("\r" + describe(name, live, now).ljust(WIDTH))
            self._out.flush()

    def _say(self, text: str) -> None:
        if self._on_screen:
            self._out.write("\r" + " " * WIDTH + "\r")
        self._out.write(text + "\n")
        self._out.flush()


def describe(name: str, live: Live, now: Standing | None) -> str:
    """Say in one line how the reading stands."""
    if now is None:
        return f"{name}: {live.message or 'nothing comes from the board'}"[:WIDTH]
    word = "steady" if now.steady else "moving" if now.enough else "listening"
    return f"{name}: {now.counts:8.1f} counts, spread {now.spread_counts:.1f}, {word}"[:WIDTH]


def _same(now: Standing, before: ReferencePoint) -> bool:
    return abs(now.counts - before.counts) <= 2 * now.limit_counts
