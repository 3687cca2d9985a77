"""A disk that is really full: the system itself refuses to take more, in a process of its own.

Where a small file system can be mounted it is one of 96 kB; elsewhere the system's limit on the size of a
file stands in for it.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from ingest.capture import BYTES_FILE, find_unfinished
from ingest.sealing import salvage

DISK_KB = 96

SETUP = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from ingest.capture import CaptureWriter, StartNotes
from ingest.errors import StorageError
from ingest.frames import sample_frame
from ingest.log import Kind
from ingest.sealing import seal

folder, limit = Path(sys.argv[1]), int(sys.argv[2])
if limit:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
notes = StartNotes(
    log_id="ride-1", kind=Kind.RIDE, bike_text='[bike]\\nname = "twin"\\n', zeros={},
    port="p", baud=115200, started="2026-05-04T09:00:00+02:00",
)
rng = np.random.default_rng(0)

def frame(n):
    rows = rng.integers(0, 65536, (20, 2), dtype=np.uint16)
    return sample_frame(rows, seq=n, t_us=20000 * n, period_us=1000)

writer = CaptureWriter(folder / "run", notes)
"""

RECORD = """
try:
    for n in range(100_000):
        writer.append(frame(n))
        if n % 50 == 0:
            writer.sync()
except StorageError as error:
    print(error)
    writer.close()
"""

# Random counts do not compress: a capture that takes most of the room leaves too little for the log.
SEAL = """
for n in range(700):
    writer.append(frame(n))
writer.sync()
writer.close()
if limit:
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit // 4, limit))
try:
    seal(folder / "run", folder / "run.parquet")
except StorageError as error:
    print(error)
"""


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[tuple[Path, int]]:
    """A folder with little room, and the limit to set where it has none of its own."""
    mounted = _run("mount", "-t", "tmpfs", "-o", f"size={DISK_KB}k", "tmpfs", str(tmp_path))
    yield tmp_path, 0 if mounted else DISK_KB * 1024
    if mounted:
        assert _run("umount", str(tmp_path))


def _run(*command: str) -> bool:
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


def run(code: str, disk: tuple[Path, int]) -> str:
    done = subprocess.run(
        [sys.executable, "-c", SETUP + code, str(disk[0]), str(disk[1])],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_recording_onto_a_full_disk_keeps_what_fitted(small_disk: tuple[Path, int]) -> None:
    said = run(RECORD, small_disk)
    assert said.count("\n") == 1
    assert said.startswith("recording stopped, the disk does not take more (")
    assert "No space left on device" in said or "File too large" in said
    (unfinished,) = find_unfinished(small_disk[0])
    size = (unfinished / BYTES_FILE).stat().st_size
    assert size > DISK_KB * 1024 * 0.8
    assert salvage(unfinished).rows >= (size // 105 - 1) * 20


def test_sealing_onto_a_full_disk_keeps_the_capture(small_disk: tuple[Path, int]) -> None:
    said = run(SEAL, small_disk)
    assert said.count("\n") == 1
    assert said.startswith("cannot write")
    assert "No space left on device" in said or "File too large" in said
    assert [path.name for path in small_disk[0].iterdir()] == ["run"]
    assert salvage(small_disk[0] / "run").rows == 700 * 20
