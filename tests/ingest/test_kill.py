"""``kill -9`` at random moments: every second before the last one is read back bit for bit."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from ingest.capture import find_unfinished
from ingest.decode import Dialect
from ingest.sealing import salvage, seal
from ingest.virtual_board import VirtualBoard

KILLS = 20
RATE_HZ = 1000.0
SPEED = 4.0

RECORD = """
import sys, time
from pathlib import Path
from ingest.capture import StartNotes
from ingest.log import Kind
from ingest.port import port_source
from ingest.recorder import Recorder

notes = StartNotes(
    log_id="ride-1", kind=Kind.RIDE, bike_text='[bike]\\nname = "twin"\\n', zeros={},
    port=sys.argv[1], baud=115200, started="2026-05-04T09:00:00+02:00",
)
recorder = Recorder(port_source(sys.argv[1]), Path(sys.argv[2]), notes)
recorder.start()
print("recording", flush=True)
while True:
    recorder.mark("still here")
    time.sleep(0.1)
"""


def kill_one(folder: Path, number: int, after_s: float) -> tuple[int, int, int]:
    """Kill one recording; give the rows played a second before, at the moment, and read back."""
    true = np.random.default_rng(number).integers(0, 1024, (60_000, 2), dtype=np.uint16)
    dialect = list(Dialect)[number % 2]
    capture = folder / f"run {number}"
    with VirtualBoard(true, rate_hz=RATE_HZ, speed=SPEED, dialect=dialect) as board:
        code = [sys.executable, "-c", RECORD, board.serve_pty(), str(capture)]
        with subprocess.Popen(code, stdout=subprocess.PIPE) as recorder:
            assert recorder.stdout is not None
            assert recorder.stdout.readline() == b"recording\n"
            end_s, played = time.monotonic() + after_s, [(time.monotonic(), board.sent)]
            while time.monotonic() < end_s:
                time.sleep(0.005)
                played.append((time.monotonic(), board.sent))
            recorder.kill()
            killed_s, at_the_end = time.monotonic(), board.sent
            recorder.wait()
    a_second_before = max(rows for when, rows in played if when <= max(killed_s - 1.0, played[0][0]))
    assert find_unfinished(folder).count(capture) == 1
    log = salvage(capture)
    rows = np.concatenate([segment.values for segment in log.segments])
    np.testing.assert_array_equal(rows, true[: len(rows)])
    assert log.ending.status == "cut off"
    assert log.gaps == ()
    assert all(mark.t_s <= len(rows) / RATE_HZ for mark in log.marks)
    seal(capture, capture.with_suffix(".parquet"))
    return a_second_before, at_the_end, len(rows)


def test_killed_at_twenty_random_moments(tmp_path: Path) -> None:
    moments = random.Random(8)
    after_s = [moments.uniform(0.0, 3.0) for _ in range(KILLS)]
    with ThreadPoolExecutor(4) as pool:
        results = list(pool.map(kill_one, [tmp_path] * KILLS, range(KILLS), after_s))
    for a_second_before, at_the_end, kept in results:
        assert a_second_before <= kept <= at_the_end
    lost_s = [(at_the_end - kept) / RATE_HZ / SPEED for _, at_the_end, kept in results]
    print(f"\n{KILLS} kills: up to {max(lost_s):.3f} s lost, {sum(k for *_, k in results)} rows read back")
