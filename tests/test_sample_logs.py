"""The sample logs are what their script makes, small, and their analysis agrees with their truth."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.ride import summarise_ride
from analysis.sag import check_sag
from ingest.bike_file import read_bike
from ingest.csv_import import read_csv_log
from ingest.log import Kind
from ingest.log_file import read_log
from ingest.records import End
from ingest.sealing import salvage
from ingest.setup_file import read_setup

SAMPLES = Path(__file__).resolve().parents[1] / "sample_logs"
TRUTH: dict[str, Any] = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))
LOGS = sorted(name for name in TRUTH if name.endswith(".parquet"))
BIKE = SAMPLES / "tall_twin.toml"


@pytest.fixture(scope="module")
def made_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("samples")
    script = SAMPLES / "make_samples.py"
    subprocess.run([sys.executable, str(script), str(folder)], check=True, cwd=SAMPLES.parent, timeout=200)
    return folder


def files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_script_makes_the_samples_that_are_here(made_again: Path) -> None:
    by_hand = {"make_samples.py", "README.md", ".gitattributes"}
    here = {name for name in files(SAMPLES) if "__pycache__" not in name and not name.endswith(".lock")}
    assert files(made_again) == here - by_hand
    for name in LOGS:
        old, new = read_log(SAMPLES / name), read_log(made_again / name)
        assert (old.id, old.marks, old.bike, old.setup) == (new.id, new.marks, new.bike, new.setup)
        for one, other in zip(old.segments, new.segments, strict=True):
            # Another machine's arithmetic may round a reading to the neighbouring count, now and then.
            apart = np.abs(one.values.astype(int) - other.values.astype(int))
            assert apart.max() <= 1
            assert np.count_nonzero(apart) < 0.001 * apart.size
    for name in ("tall_twin.toml", "setup_stock.toml", "setup_lowered.toml"):
        assert (made_again / name).read_bytes() == (SAMPLES / name).read_bytes()
    assert numbers(json.loads((made_again / "truth.json").read_text())) == pytest.approx(
        numbers(TRUTH), abs=0.02
    )


def numbers(value: Any, where: str = "") -> dict[str, float]:
    if isinstance(value, dict):
        found = (numbers(each, f"{where}/{key}") for key, each in value.items())
        return {key: number for each in found for key, number in each.items()}
    if isinstance(value, list):
        return numbers(dict(enumerate(value)), where)
    return {where: float(value)}


def test_all_samples_together_stay_small() -> None:
    assert sum((SAMPLES / name).stat().st_size for name in files(SAMPLES)) < 5_000_000


@pytest.mark.parametrize("name", [name for name in LOGS if name.startswith("sag")])
def test_sag_of_the_samples_is_near_the_truth(name: str) -> None:
    near_truth(check_sag(read_log(SAMPLES / name)), name)


def test_csv_of_another_logger_gives_the_same_sag() -> None:
    log = read_csv_log(
        SAMPLES / "sag_other_logger.csv", read_bike(BIKE), Kind.SAG, BIKE.read_text(encoding="utf-8")
    )
    assert log.link.repeated == 1
    assert log.duration_s == pytest.approx(33.6, abs=0.05)
    near_truth(check_sag(log), "sag_other_logger.csv")


def near_truth(check: Any, name: str) -> None:
    for end in End:
        measured, true = getattr(check, end), TRUTH[name][end]
        assert measured.unladen_sag_mm.value == pytest.approx(true["unladen_sag_mm"], abs=0.7)
        assert measured.rider_sag_mm.value == pytest.approx(true["rider_sag_mm"], abs=0.7)


@pytest.mark.parametrize("name", [name for name in LOGS if name.startswith("ride")])
@pytest.mark.parametrize("end", End)
def test_rides_of_the_samples_are_near_the_truth(name: str, end: End) -> None:
    measured, true = getattr(summarise_ride(read_log(SAMPLES / name)), end), TRUTH[name][end]
    assert measured.travel_mm == true["travel_mm"]
    assert measured.travel_used_mm == pytest.approx(true["max_mm"], abs=1.0)
    for percentile in ("mean_mm", "p50_mm", "p95_mm", "p99_mm"):
        assert getattr(measured, percentile) == pytest.approx(true[percentile], abs=0.5)
    assert measured.bottoming.count == true["bottomings"]
    assert measured.topping.count == pytest.approx(true["toppings"], abs=1)
    assert measured.compression_speed_mm_s.max == pytest.approx(true["max_compression_speed_mm_s"], rel=0.05)


def test_the_cut_off_recording_gives_all_that_is_whole() -> None:
    log, true = salvage(SAMPLES / "ride_cut_off.capture"), TRUTH["ride_cut_off.capture"]
    whole = read_log(SAMPLES / "ride_stock.parquet").segments[0].values
    assert log.rows == true["samples"]
    assert log.link.lost_samples == true["lost_samples"]
    assert log.link.repeated == true["repeated_frames"]
    assert log.ending.status == "cut off"
    for segment in log.segments:
        first = round(segment.start_s * 1000)
        assert np.array_equal(segment.values, whole[first : first + segment.rows])


def test_the_setups_beside_the_bike_file_are_those_of_the_logs() -> None:
    for state in ("stock", "lowered"):
        assert read_log(SAMPLES / f"ride_{state}.parquet").setup == read_setup(
            SAMPLES / f"setup_{state}.toml"
        )
