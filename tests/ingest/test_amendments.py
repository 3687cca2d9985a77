"""Amendments: corrections beside a log that never touch it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ingest import amendments
from ingest.amendments import amendments_path
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Amendment, Log, Mark
from ingest.log_file import amend, read_header, read_log, write_log
from ingest.records import End, EndSetup, Setup


@pytest.fixture
def path(make_log: Callable[..., Log], tmp_path: Path) -> Path:
    front = np.linspace(0, 100, 50)
    log = make_log(front, front, marks=[(0.01, "unladen"), (0.03, "rider")])
    own = Setup(name="own sensor", rear=EndSetup(sensor_calibration=((90, 0), (900, 90))))
    write_log(replace(log, setup=own, zeros={End.FRONT: 100.0}, notes="windy"), tmp_path / "log.parquet")
    return tmp_path / "log.parquet"


def amendment(what: str, **content: Any) -> Amendment:
    return Amendment(made="2026-05-05T08:00:00+02:00", by="Kim", what=what, content=content)


def test_nothing_amended_nothing_named(path: Path) -> None:
    assert read_log(path).amendments == ()
    assert not amendments_path(path).exists()


def test_every_kind_is_applied_and_named(path: Path) -> None:
    before = path.read_bytes()
    amend(path, amendment("zero", front=112, rear=90.5))
    amend(path, amendment("calibration", rear=[[88, 0], [910, 92]]))
    amend(path, amendment("mark", do="add", t_s=0.02, text="rider, from above"))
    amend(path, amendment("mark", do="move", t_s=0.03, text="rider", to_s=0.015))
    amend(path, amendment("mark", do="remove", t_s=0.01, text="unladen"))
    amend(path, amendment("note", text="tyre pressure was low"))
    for log in (read_log(path), read_header(path)):
        assert log.zeros == {End.FRONT: 112, End.REAR: 90.5}
        assert log.bike.sensors[End.REAR].calibration == ((88, 0), (910, 92))
        assert log.setup is not None
        assert log.setup.rear.sensor_calibration is None  # the amendment outranks the setup's own points
        assert log.marks == (Mark(t_s=0.015, text="rider"), Mark(t_s=0.02, text="rider, from above"))
        assert log.notes == "windy\ntyre pressure was low"
        assert [a.what for a in log.amendments] == ["zero", "calibration", "mark", "mark", "mark", "note"]
        assert log.amendments[0].content == {"front": 112, "rear": 90.5}
        assert log.amendments[0].by == "Kim"
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (amendment("colour", red=1), "unknown amendment 'colour': allowed are zero, calibration, mark, note"),
        (amendment("zero", middle=1), "unknown end 'middle'"),
        (amendment("zero", front="high"), "'high' is not a number"),
        (amendment("zero", front=float("inf")), "not a number"),
        (amendment("calibration", rear=[[88, 0]]), "two points or more"),
        (
            amendment("calibration", rear=[[88, 0], [88, 92]]),
            r"the rear calibration have the same counts \(88\)",
        ),
        (amendment("calibration", rear=[[88, 5], [90, 5]]), r"the rear calibration have the same mm \(5\)"),
        (amendment("mark", do="remove", t_s=0.5, text="rider"), "no mark 'rider' at 0.5 s"),
        (amendment("mark", do="paint", t_s=0.03, text="rider"), "allowed are add, remove, move"),
        (amendment("mark", do="move", t_s=0.03, text="rider"), "does not say what it should"),
        (amendment("note"), "does not say what it should"),
    ],
    ids=lambda value: value if isinstance(value, str) else value.what,
)
def test_what_does_not_fit_is_refused_before_it_is_kept(path: Path, wrong: Amendment, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        amend(path, wrong)
    assert read_log(path).amendments == ()


def test_a_torn_last_line_is_left_out_and_named(path: Path) -> None:
    amend(path, amendment("note", text="first"))
    whole = amendments_path(path).read_bytes()
    amend(path, amendment("note", text="second"))
    both = amendments_path(path).read_bytes()
    for length in range(len(whole) + 1, len(both)):
        amendments_path(path).write_bytes(both[:length])
        log = read_log(path)
        assert log.notes is not None
        assert "first" in log.notes
        assert "second" not in log.notes
        assert "cut off while it was written" in str(log.amendments[-1].content["text"])
    amend(path, amendment("note", text="third"))
    notes = read_log(path).notes
    assert notes == "windy\nfirst\nthird"


def test_a_damaged_line_is_an_error_that_names_it(path: Path) -> None:
    for text in ("first", "second", "third"):
        amend(path, amendment("note", text=text))
    amendments_path(path).write_bytes(amendments_path(path).read_bytes().replace(b"second", b"secund"))
    with pytest.raises(FileProblem, match=r"line 2 of .*log\.amendments\.jsonl is damaged"):
        read_log(path)
    with pytest.raises(FileProblem, match="line 2"):
        amend(path, amendment("note", text="fourth"))


def test_amendments_of_another_log_are_refused(path: Path, make_log: Callable[..., Log]) -> None:
    amend(path, amendment("note", text="first"))
    other = path.with_name("other.parquet")
    write_log(replace(make_log([1, 2], [1, 2]), id="other"), other)
    amendments_path(path).rename(amendments_path(other))
    with pytest.raises(FileProblem, match=r"line 1 of .* belongs to another log than other"):
        read_log(other)


def test_an_amendment_is_synced_before_it_counts(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(amendments.os, "fsync", full)
    with pytest.raises(StorageError, match="No space left"):
        amend(path, amendment("note", text="lost"))
