"""Bad input, each with one clear line and exit status 1 or 2: what a workshop really runs into."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dashboard.cli import main
from ingest.log import Log
from ingest.log_file import write_log
from ingest.port import open_port

GOOD_BIKE = """\
[bike]
name = "Workshop tall twin"
id = "frame 0001"
[front]
suspension = "telescopic fork"
travel_mm = 230
[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]
"""

needs_pty = pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")


@pytest.fixture
def bike_file(tmp_path: Path) -> Path:
    path = tmp_path / "bike.toml"
    path.write_text(GOOD_BIKE, encoding="utf-8")
    return path


@pytest.fixture
def fails(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Run a verb that must fail, and give the one line it says."""

    def run(status: int, *argv: object) -> str:
        assert main([str(arg) for arg in argv]) == status
        said = capsys.readouterr().err
        assert said.startswith("flatfoot: ")
        assert said.count("\n") == 1, said
        assert "Traceback" not in said
        assert "should not have happened" not in said
        return said

    return run


# ------------------------------------------------------------------------------------------------ ports


def record(port: str, bike_file: Path) -> tuple[object, ...]:
    out = bike_file.with_name("log.parquet")
    return ("record", "--port", port, "--bike", bike_file, "--kind", "ride", "--seconds", 1, "--out", out)


def nothing_left(folder: Path) -> bool:
    return sorted(path.name for path in folder.iterdir()) == ["bike.toml"]


@contextmanager
def noisy_pty(noise: bytes) -> Iterator[str]:
    """A port out of which comes the same noise again and again, or nothing at all."""
    import tty

    ours, theirs = os.openpty()
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    done = threading.Event()

    def send() -> None:
        while not done.wait(0.02):
            try:
                os.write(ours, noise)
            except BlockingIOError:
                continue

    thread = threading.Thread(target=send)
    if noise:
        thread.start()
    try:
        yield os.ttyname(theirs)
    finally:
        done.set()
        if noise:
            thread.join()
        os.close(ours)
        os.close(theirs)


def test_no_such_port(fails: Callable[..., str], bike_file: Path) -> None:
    said = fails(2, *record("/dev/no-such-port", bike_file))
    assert "there is no port" in said
    assert "/dev/no-such-port" in said
    assert nothing_left(bike_file.parent)


@needs_pty
def test_port_busy(fails: Callable[..., str], bike_file: Path) -> None:
    with noisy_pty(b"") as port, open_port(port):
        assert "in use by another program" in fails(2, *record(port, bike_file))
    assert nothing_left(bike_file.parent)


@needs_pty
def test_silent_port(fails: Callable[..., str], bike_file: Path) -> None:
    with noisy_pty(b"") as port:
        assert f"nothing came from {port}" in fails(1, *record(port, bike_file))
    assert nothing_left(bike_file.parent)


@needs_pty
def test_wrong_baud(fails: Callable[..., str], bike_file: Path) -> None:
    # What a UART makes of bits at another speed: bytes, but not those that were sent.
    noise = np.random.default_rng(1).integers(1, 256, 200, dtype=np.uint8).tobytes()
    with noisy_pty(noise) as port:
        said = fails(1, *record(port, bike_file))
    assert "make no sense" in said
    assert "baud" in said
    assert nothing_left(bike_file.parent)


# ------------------------------------------------------------------------------------------------ files


def test_a_key_of_the_bike_file_misspelt(fails: Callable[..., str], bike_file: Path) -> None:
    bike_file.write_text(GOOD_BIKE.replace("travel_mm", "travell_mm"), encoding="utf-8")
    said = fails(2, "geometry", "--bike", bike_file)
    assert "travell_mm" in said
    assert "travel_mm" in said.replace("travell_mm", "")


def test_text_where_the_bike_file_wants_a_number(fails: Callable[..., str], bike_file: Path) -> None:
    bike_file.write_text(GOOD_BIKE.replace("= 230", '= "tall"'), encoding="utf-8")
    said = fails(2, "geometry", "--bike", bike_file)
    assert "travel_mm" in said
    assert "tall" in said


@pytest.mark.parametrize("text", ["[bike\nname", "\x00", "name = 1\nname = 2"])
def test_a_bike_file_that_is_not_toml(text: str, fails: Callable[..., str], bike_file: Path) -> None:
    bike_file.write_text(text, encoding="utf-8")
    assert str(bike_file) in fails(2, "geometry", "--bike", bike_file)


def test_a_calibration_of_one_point(fails: Callable[..., str], bike_file: Path) -> None:
    bike_file.write_text(GOOD_BIKE.replace(", [921, 230]", ""), encoding="utf-8")
    csv = bike_file.with_name("ride.csv")
    csv.write_text("t_us,ch0\n0,1\n1000,2\n", encoding="utf-8")
    out = bike_file.with_name("ride.parquet")
    said = fails(2, "import", csv, "--bike", bike_file, "--kind", "ride", "--out", out)
    assert "calibration" in said
    assert "two" in said


def test_a_log_cut_at_any_byte(
    fails: Callable[..., str], make_log: Callable[..., Log], tmp_path: Path
) -> None:
    whole = tmp_path / "whole.parquet"
    wave = 60 + 20 * np.sin(np.arange(4000) / 50)
    write_log(make_log(wave, wave), whole)
    data = whole.read_bytes()
    cuts = [0, 1, 4, 5, *np.linspace(8, len(data) - 9, 12).astype(int), len(data) - 8, len(data) - 1]
    for cut in cuts:
        path = tmp_path / "cut.parquet"
        path.write_bytes(data[:cut])
        assert "cut.parquet" in fails(2, "ride", path, "--json")


@pytest.mark.parametrize(
    ("name", "words"),
    [("gone.parquet", "there is no file"), ("ride.csv", "flatfoot import"), ("notes.txt", "notes.txt")],
)
def test_something_that_is_no_log(name: str, words: str, fails: Callable[..., str], tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("pressed the front, felt soft", encoding="utf-8")
    assert words in fails(2, "sag", tmp_path / name)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("t_us,ch0\n", ""),
        ("t_us,ch0\n0,512\n1000,soft\n2000,514\n", "soft"),
        ("time,front\n0,1\n1,2\n", "time"),
    ],
    ids=["empty", "only a header", "text in a number", "wrong header"],
)
def test_csv_files_that_hold_no_ride(
    text: str, words: str, fails: Callable[..., str], bike_file: Path
) -> None:
    csv, out = bike_file.with_name("ride.csv"), bike_file.with_name("ride.parquet")
    csv.write_text(text, encoding="utf-8")
    said = fails(2, "import", csv, "--bike", bike_file, "--kind", "ride", "--out", out)
    assert "ride.csv" in said
    assert words in said
    assert not out.exists()


# ----------------------------------------------------------------------------------------------- answers


def wave_log(make_log: Callable[..., Log], seconds: float) -> Log:
    t = np.arange(0, seconds, 0.002)
    wave = 80 + 25 * np.sin(2 * np.pi * 1.3 * t) + 5 * np.sin(2 * np.pi * 7.1 * t)
    return make_log(wave, wave, rate_hz=500.0)


def test_logs_of_different_bikes(
    fails: Callable[..., str], make_log: Callable[..., Log], tmp_path: Path
) -> None:
    one, other = tmp_path / "one.parquet", tmp_path / "other.parquet"
    log = wave_log(make_log, 60)
    write_log(log, one)
    write_log(replace(log, id="other", bike=replace(log.bike, id="frame 0002"), texts={}), other)
    said = fails(1, "compare", one, other)
    assert "frame 0001" in said
    assert "frame 0002" in said


def test_a_ride_too_short_to_compare(
    fails: Callable[..., str], make_log: Callable[..., Log], tmp_path: Path
) -> None:
    long, short = tmp_path / "long.parquet", tmp_path / "short.parquet"
    write_log(wave_log(make_log, 60), long)
    write_log(wave_log(make_log, 1.5), short)
    fails(1, "compare", long, short)


def test_a_ride_is_no_sag_check(
    fails: Callable[..., str], make_log: Callable[..., Log], tmp_path: Path
) -> None:
    path = tmp_path / "ride.parquet"
    write_log(wave_log(make_log, 20), path)
    assert "recorded as a ride" in fails(1, "sag", path)


def test_a_rider_of_two_tons(fails: Callable[..., str], bike_file: Path) -> None:
    book = bike_file.with_name("book")
    said = fails(2, "job", "new", "--bike", bike_file, "--rider", "X", "--rider-kg", 2000, "--book", book)
    assert "2000" in said


def test_a_folder_that_is_not_a_book(fails: Callable[..., str], tmp_path: Path) -> None:
    (tmp_path / "holiday.jpg").write_bytes(b"\xff\xd8")
    assert str(tmp_path) in fails(2, "job", "list", "--book", tmp_path)
    assert "was not made by the demo" in fails(2, "demo", "--no-serve", "--book", tmp_path)
    assert (tmp_path / "holiday.jpg").exists()
