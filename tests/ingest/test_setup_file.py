"""Setup files: what the work changed, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from ingest.errors import FileProblem
from ingest.records import EndSetup, Leverage, Setup
from ingest.setup_file import parse_setup, read_setup, setup_text

LOWERED = """\
[setup]
name = "lowered 40"
notes = \"\"\"
shorter shock,
tubes raised\"\"\"

[front]
raised_in_clamps_mm = 12
travel_mm = 205
spring_rate_n_mm = 6.0

[rear]
travel_mm = 180
leverage = [[0, 0], [90, 38], [180, 78]]
preload_mm = 8
rebound_clicks = 11

[sensors.rear]
calibration = [[120, 0], [905, 78]]
zero_count = 121.5
"""


def test_a_setup_reads(tmp_path: Path) -> None:
    (tmp_path / "lowered.toml").write_text(LOWERED)
    assert read_setup(tmp_path / "lowered.toml") == Setup(
        name="lowered 40",
        notes="shorter shock,\ntubes raised",
        front=EndSetup(raised_in_clamps_mm=12, travel_mm=205, spring_rate_n_mm=6.0),
        rear=EndSetup(
            travel_mm=180,
            leverage=Leverage(table=((0, 0), (90, 38), (180, 78))),
            preload_mm=8,
            rebound_clicks=11,
            sensor_calibration=((120, 0), (905, 78)),
            sensor_zero_count=121.5,
        ),
    )


@pytest.mark.parametrize(
    "setup",
    [
        parse_setup(LOWERED),
        Setup(name="as delivered"),
        Setup(name="zeroed", front=EndSetup(sensor_zero_count=101)),
        Setup(name="ratio", notes="one line\n", rear=EndSetup(leverage=Leverage(ratio=2.25))),
        Setup(name="odd notes", notes='a """ b\r\n\ttab \\ end'),
    ],
)
def test_what_is_written_reads_back(setup: Setup) -> None:
    assert parse_setup(setup_text(setup)) == setup


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("preload_mm", "preload", "lowered.toml: rear.preload is not a known key; did you mean preload_mm?"),
        ("[sensors.rear]", "[sensors.rear]\nchannel = 1", "sensors.rear.channel is not a known key"),
        ("[[120, 0], [905, 78]]", "[[120, 0]]", "two points or more; one was given at [sensors.rear]"),
        ('name = "lowered 40"', "", "[setup] needs name, a text in quotes"),
        ("[setup]", "[set-up]", "set-up is not a known key; did you mean setup?"),
        ("travel_mm = 205", 'travel_mm = "205 mm"', 'front.travel_mm is "205 mm", which is text'),
        ("travel_mm = 205", "travel_mm = 2050", "front.travel_mm is 2050, out of range: 10 to 600"),
        ("preload_mm = 8", "ratio = 2", "[rear] has both leverage and ratio"),
        ("[front]", "[[front]]", "front is"),
    ],
)
def test_each_slip_has_its_line(old: str, new: str, said: str) -> None:
    assert old in LOWERED
    with pytest.raises(FileProblem) as caught:
        parse_setup(LOWERED.replace(old, new, 1), "lowered.toml")
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_an_empty_file_is_no_setup() -> None:
    with pytest.raises(FileProblem, match=r"the file needs a \[setup\] table"):
        parse_setup("")
