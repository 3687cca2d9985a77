"""What is said of a run travels with it: typed, recorded, kept in the file, corrected; old logs have none."""

from __future__ import annotations

import json
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from ingest.amendments import apply
from ingest.capture import CaptureWriter, StartNotes, read_capture
from ingest.errors import UsageError
from ingest.log import Amendment, Kind
from ingest.log_file import amend, read_header, read_log, write_log
from ingest.log_header import BIKE_KEY, CRC_KEY, LOG_KEY, header_texts, read_header_texts
from ingest.run_notes import RunNotes, typed_run_notes

NOTES = RunNotes(route="forest loop", front_tyre_kpa=220.0, rear_tyre_kpa=250.0, warmed_up=True)


def amendment(**content: object) -> Amendment:
    return Amendment(made="2026-01-01T09:00:00+00:00", by=None, what="run", content=content)


def test_what_is_typed() -> None:
    assert typed_run_notes("forest loop", "220,250", "yes") == NOTES
    assert typed_run_notes(" ", "", None) == RunNotes()
    assert typed_run_notes(tyres_kpa=" ,250 ") == RunNotes(rear_tyre_kpa=250.0)
    assert typed_run_notes(warm="No").warmed_up is False


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ({"tyres_kpa": "2.2,2.5"}, "2.2 kPa: 20 to 500 kPa can be; 1 bar is 100 kPa"),
        ({"tyres_kpa": "220"}, "'220': write front and rear"),
        ({"tyres_kpa": "220,soft"}, "'soft' is not a number"),
        ({"tyres_kpa": "nan,250"}, "nan kPa"),
        ({"warm": "a bit"}, "'a bit': say yes or no"),
    ],
)
def test_what_cannot_be(typed: dict[str, str], names: str) -> None:
    with pytest.raises(UsageError) as caught:
        typed_run_notes(**typed)
    assert names in str(caught.value)


def test_kept_in_the_file_and_corrected_beside_it(make_log, tmp_path: Path) -> None:
    log = replace(make_log(np.zeros(500), np.zeros(500)), run=NOTES)
    path = tmp_path / "ride.parquet"
    write_log(log, path)
    assert read_header(path).run == NOTES
    amend(path, amendment(front_tyre_kpa=200, warmed_up=False))
    amend(path, amendment(route=None))
    kept = read_log(path)
    assert kept.run == RunNotes(route=None, front_tyre_kpa=200.0, rear_tyre_kpa=250.0, warmed_up=False)
    assert [each.what for each in kept.amendments] == ["run", "run"]


def test_a_log_from_before_there_were_notes_reads_as_none(make_log) -> None:
    texts = header_texts(make_log(np.zeros(500), np.zeros(500)), [0, 0])
    about = json.loads(texts[LOG_KEY])
    del about["run"]
    texts[LOG_KEY] = json.dumps(about)
    crc = 0
    for key in (LOG_KEY, BIKE_KEY):
        crc = zlib.crc32(texts[key].encode(), crc)
    assert read_header_texts({**texts, CRC_KEY: f"{crc:08x}"}, "an old log").log.run == RunNotes()


@pytest.mark.parametrize(
    ("content", "names"),
    [
        ({"tyre": 220}, "cannot note 'tyre'"),
        ({}, "says nothing"),
        ({"warmed_up": "yes"}, "allowed are true and false"),
        ({"front_tyre_kpa": "220"}, "not a number"),
        ({"rear_tyre_kpa": 2.5}, "20 to 500 kPa"),
        ({"route": ""}, "give the name"),
    ],
)
def test_corrections_that_do_not_fit(make_log, content: dict[str, object], names: str) -> None:
    with pytest.raises(UsageError) as caught:
        apply(make_log(np.zeros(500), np.zeros(500)), [amendment(**content)])
    assert names in str(caught.value)


@pytest.mark.parametrize("said", [NOTES, RunNotes()])
def test_known_from_the_start_of_a_recording(tmp_path: Path, said: RunNotes) -> None:
    notes = StartNotes(
        log_id="r", kind=Kind.RIDE, bike_text="", run=said, zeros={}, port="p", baud=1, started="2026"
    )
    CaptureWriter(tmp_path / "r", notes).close()
    assert read_capture(tmp_path / "r").notes == notes
