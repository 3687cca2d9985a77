"""`flatfoot check` at a terminal: on a real pseudo-terminal, led through by the counts of a sample log."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from analysis.holding import Verdict, Why, Word
from analysis.procedure import Step, plan
from analysis.sag import check_sag
from dashboard import check_words
from dashboard.cli import main
from dashboard.commands.check_walk import checklist, live_line
from dashboard.commands.screen import Screen
from dashboard.guide import CHECKLIST, EndView, View
from dashboard.units import Units
from ingest.live_view import Live
from ingest.log_file import read_log
from ingest.records import End
from ingest.virtual_board import VirtualBoard

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))["sag_stock.parquet"]

needs_pty = pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")


@pytest.fixture
def board() -> Iterator[VirtualBoard]:
    log = read_log(SAMPLES / "sag_stock.parquet")
    counts = np.concatenate([segment.values for segment in log.segments]).astype(np.uint16)
    with VirtualBoard(counts, rate_hz=1 / log.segments[0].dt_s, speed=1.6) as playing:
        yield playing


class Terminal:
    """The verb as a process of its own with a terminal, and all that was ever written on it."""

    def __init__(self, *argv: object) -> None:
        self._master, slave = os.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "dashboard", "check", *map(str, argv)],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**os.environ, "TERM": "xterm"},
        )
        os.close(slave)
        self.text = ""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self._master, 4096)
            except OSError:  # the other side is gone
                return
            if not data:
                return
            self.text += data.decode(errors="replace")

    def type(self, line: str) -> None:
        os.write(self._master, line.encode() + b"\n")

    def until(self, text: str, seconds: float = 40.0) -> None:
        wait_until(lambda: text in self.text, seconds, lambda: self.text[-1500:])

    def end(self) -> int:
        status = self.process.wait(timeout=40)
        self._reader.join(5)
        os.close(self._master)
        return status


def wait_until(holds: Callable[[], bool], seconds: float, or_say: Callable[[], str]) -> None:
    end_s = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end_s, or_say()
        time.sleep(0.02)


@needs_pty
def test_a_check_led_through_at_a_terminal(board: VirtualBoard, tmp_path: Path) -> None:
    out = tmp_path / "sag.parquet"
    bench = Terminal(
        "--port", board.serve_pty(), "--bike", SAMPLES / "tall_twin.toml", "--out", out, "--load-case", "gear"
    )  # fmt: skip
    for item, said in zip(CHECKLIST, ("", "n", "", ""), strict=True):
        bench.until(f"{item}?")
        bench.type(said)
    bench.until("1 of 6: Lift the bike until both wheels hang free.")
    bench.until("taken: Rider on, pushed, let up:")
    bench.until("6 of 6: ")
    bench.type("stop")
    assert bench.end() == 0, bench.text
    log = read_log(out)
    assert [mark.text for mark in log.marks] == [step.mark for step in plan()[:5]]
    assert (log.load_case, log.ending.status) == ("gear", "complete")
    assert log.notes is not None
    assert "not confirmed: level floor, wheels free to roll" in log.notes
    sag = check_sag(log)
    for end, found in ((End.FRONT, sag.front), (End.REAR, sag.rear)):
        assert found is not None
        for name in ("unladen_sag_mm", "rider_sag_mm"):
            quantity = getattr(found, name)
            assert quantity.value == pytest.approx(TRUTH[end.value][name], abs=0.7)
            assert f"{quantity.value:.1f} ± {quantity.expanded_uncertainty:.1f} mm" in bench.text
    assert "settling: creeping down" in bench.text
    assert "steady: takes itself in" in bench.text
    plain = re.sub(r"\x1b(?:\[\d?[AK]|[78])", "", bench.text)
    assert all(len(line) <= 80 for line in re.split(r"[\r\n]+", plain) if " of 6  " in line)


@needs_pty
def test_taken_by_hand_struck_and_ended_with_ctrl_c(board: VirtualBoard, tmp_path: Path) -> None:
    out = tmp_path / "sag.parquet"
    port = board.serve_pty()
    bench = Terminal("--port", port, "--bike", SAMPLES / "tall_twin.toml", "--out", out, "--yes")
    bench.until("1 of 6  front")
    bench.type("")
    bench.until("taken: Both wheels off the ground: front 0.0")
    bench.type("again")
    bench.until("does not count: Both wheels off the ground")
    bench.type("what?")
    bench.until("what?: type again, more or stop")
    bench.type("more")
    bench.until("of 10: ")
    bench.until("taken: Bike alone, let down (1):")
    bench.process.send_signal(signal.SIGINT)
    assert bench.end() == 0, bench.text
    marks = [mark.text for mark in read_log(out).marks]
    assert marks[:2] == ["topped out", "again, topped out"]
    assert "unladen, from above" in marks
    assert not out.with_suffix(".capture").exists()


def test_repeats_out_of_range_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["check", "--port", "loop://", "--bike", str(SAMPLES / "tall_twin.toml"), "--repeats", "0"]
    assert main([*argv, "--out", str(tmp_path / "x.parquet")]) == 2
    assert "1 to 9" in capsys.readouterr().err


def test_the_checklist_without_anybody_to_answer() -> None:
    screen = Screen(io.StringIO(""), io.StringIO())
    screen.listen()
    assert checklist(screen, everything=False) == ()
    assert checklist(screen, everything=True) == CHECKLIST


@pytest.mark.parametrize("why", list(Why))
@pytest.mark.parametrize("units", list(Units))
def test_the_line_never_outgrows_a_terminal(why: Why, units: Units) -> None:
    live = Live(
        status="recording", duration_s=3600.0, samples=3_600_000, lost_samples=0, damaged=0,
        rate_hz=1000.0, counts=(1, 2), recent=(), message=None,
    )  # fmt: skip
    verdict = Verdict(word=Word.STEADY, why=why, end=End.FRONT, creep_mm=-12.3, held_s=1.3, left_s=0.7)
    step = Step(name="rider", side="from below", repeat=3)
    ends = tuple(
        EndView(
            end=end, travel_mm=230.0, now_mm=-123.4, recent_mm=None, unladen_mm=None, rider_mm=None,
            target_mm=None, zeroed=True,
        )
        for end in End
    )  # fmt: skip
    view = View(
        live=live, rows=(), step=None, last=None, verdict=verdict, disagrees=None, ends=ends, rounds=9,
        confirmed=(), version=1,
    )  # fmt: skip
    line = live_line(view, units)
    assert len(line) <= 79
    assert not line.endswith("…")
    said = check_words.sentence(verdict, step, units)
    assert said.endswith(".")
    assert ("front" in said) == (why in (Why.NOT_MOVED, Why.OTHER_SIDE, Why.NOT_LIFTED))
