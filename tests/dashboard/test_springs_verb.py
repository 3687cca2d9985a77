"""``flatfoot springs`` from the terminal: table, words, JSON, and one line for what is missing."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from dashboard import cli, sag_words
from dashboard.units import Units

LOGS = Path(__file__).resolve().parents[2] / "sample_logs"
LOG, BIKE = str(LOGS / "sag_stock.parquet"), str(LOGS / "tall_twin.toml")
Said = Callable[..., tuple[int, str, str]]


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Said:
    def run(*words: str) -> tuple[int, str, str]:
        status = cli.main(["springs", *words])
        out, err = capsys.readouterr()
        return status, out, err

    return run


def test_a_table_that_fits_80_columns(said: Said) -> None:
    for units in ("mm", "in"):
        status, out, err = said(LOG, "--end", "front", "--rates", "8,9.5,11,140", "--units", units)
        assert (status, err) == (0, "")
        assert max(map(len, out.splitlines())) <= 80
    rows = said(LOG, "--end", "front", "--rates", "8,9.5,11,140")[1].splitlines()
    assert rows[0].split("  ")[0] == "front"
    assert rows[1].startswith("8.0 N/mm  ")
    assert rows[1].endswith("  fits")
    assert any(row.startswith("14.5 N/mm now  0.0 least") for row in rows)
    assert any(row.startswith("140.0 N/mm") and row.endswith("too stiff") for row in rows)


def test_the_best_is_named_with_why_and_with_what_might_serve(said: Said) -> None:
    _, out, _ = said(LOG, "--end", "front", "--rates", "8,9.5,11")
    text = " ".join(out.split())
    # 8 and 9.5 N/mm want over 25 mm of preload.
    assert "Front: 11.0 N/mm serves best, with 14." in text
    assert (
        "of preload: of those that do with 25 mm of preload it leaves unladen sag nearest the middle of its "
        "target, once rider sag is right." in text
    )
    assert "Front: 8.0 N/mm, 9.5 N/mm and 14.5 N/mm might serve as well" in text
    assert "it never changes the rate" in text
    assert "store energy" in text


def test_none_fits(said: Said) -> None:
    _, out, _ = said(LOG, "--end", "rear", "--rates", "75,85")
    text = " ".join(out.split())
    assert "Rear: none of these surely fits; 75.0 N/mm comes nearest and is too stiff." in text
    assert "Rear: look for a softer spring." in text


def test_json(said: Said) -> None:
    status, out, _ = said(LOG, "--end", "front", "--rates", "9.5,11", "--json")
    answer = json.loads(out)
    assert status == 0
    assert (answer["rear"], answer["cautions"]) == (None, [])
    front = answer["front"]
    assert [choice["rate_n_mm"] for choice in front["choices"]] == [9.5, 11.0, 14.5]
    assert front["best_n_mm"] == 11.0
    for choice in front["choices"]:
        for key in ("unladen_sag_mm", "rider_sag_mm", "unladen_once_right_mm"):
            assert set(choice[key]) == {"value", "expanded_uncertainty", "coverage_factor"}
        assert choice["word"] in {"fits", "too soft", "too stiff", "cannot tell"}


def test_by_tape(said: Said) -> None:
    words = ("--bike", BIKE, "--end", "front", "--rider-mm", "45", "--rates", "9,10")
    status, out, _ = said(*words, "--unladen-mm", "33", "--doubt-mm", "1")
    assert status == 0
    assert "rider sag 45.0 ± 1.0 mm" in out
    status, out, _ = said(*words)
    assert status == 0
    assert "unladen sag was not measured, and only that says whether a spring fits" in " ".join(out.split())


def test_springs_on_the_shelf_come_from_the_bike_file(said: Said, tmp_path: Path) -> None:
    text = Path(BIKE).read_text(encoding="utf-8")
    assert "[front]" in text
    bike = tmp_path / "bike.toml"
    bike.write_text(text.replace("[front]", "[front]\nsprings_available_n_mm = [9.5, 11]"), encoding="utf-8")
    status, out, _ = said("--bike", str(bike), "--end", "front", "--rider-mm", "45", "--unladen-mm", "33")
    assert status == 0
    assert "9.5 N/mm" in out


def test_the_rate_of_a_spring_from_its_wire(said: Said) -> None:
    status, out, _ = said("--wire-mm", "2.5", "--coil-mm", "22.25", "--active-coils", "16")
    assert status == 0
    assert out.startswith("By its wire this spring has 2.2 N/mm, ± ")
    status, out, _ = said("--wire-mm", "12", "--coil-mm", "75", "--active-coils", "6.5", "--json")
    assert status == 0
    assert json.loads(out)["rate_n_mm"]["value"] == pytest.approx(74.7, abs=0.1)


@pytest.mark.parametrize(
    ("words", "status", "line"),
    [
        ((), 2, "springs needs a sag log, or --bike with sag by tape"),
        ((LOG, "--rates", "6,7"), 2, "--rates are of one end: add --end front or --end rear"),
        ((LOG, "--end", "rear", "--rates", "6;7"), 2, "give numbers of N/mm with commas between"),
        ((LOG, "--end", "rear", "--rates", "0,7"), 2, "a spring has 0.5 to 1000 N/mm"),
        ((LOG, "--end", "rear"), 1, "rear: no springs to choose from: give --end rear --rates"),
        (("--bike", BIKE, "--end", "rear"), 2, "--bike needs --end and --rider-mm"),
        (("--wire-mm", "3"), 2, "needs --wire-mm, --coil-mm and --active-coils"),
    ],
)
def test_one_line_for_what_is_missing(said: Said, words: tuple[str, ...], status: int, line: str) -> None:
    found, out, err = said(*words)
    assert (found, out) == (status, "")
    assert line in err
    assert len(err.splitlines()) == 1


def test_what_is_missing_in_the_bike_file_is_asked_for(said: Said, tmp_path: Path) -> None:
    lines = Path(BIKE).read_text(encoding="utf-8").splitlines()
    bike = tmp_path / "bike.toml"
    bike.write_text("\n".join(line for line in lines if "preload_mm" not in line), encoding="utf-8")
    status, out, err = said("--bike", str(bike), "--end", "rear", "--rider-mm", "43", "--rates", "85")
    assert (status, out) == (1, "")
    assert "the preload now is not known: measure the spring with the wheel hanging" in err


def test_wheel_rate_in_the_sag_table() -> None:
    from analysis.results import EndSag, MeasuredRate, Quantity, SagCheck

    q = Quantity(value=15.0, expanded_uncertainty=1.5, coverage_factor=2.0)
    rate = MeasuredRate(
        secant_n_mm=q,
        from_mm=33.0,
        to_mm=45.0,
        sag_change_mm=q,
        load_change_kg=q,
        load_basis="scales",
        expected_n_mm=None,
        word="measured",
        dominates="friction",
        would_tell=None,
    )
    end = EndSag(
        travel_mm=230.0,
        unladen_sag_mm=q,
        rider_sag_mm=q,
        unladen_sag_percent=None,
        rider_sag_percent=None,
        friction_band_mm=None,
        target_sag_mm=None,
        word="cannot tell",
        zero_reading=None,
        readings=(),
        wheel_rate=rate,
    )
    check = SagCheck(log_id="a", front=end, rear=None, advice=())
    assert ("wheel rate, secant", "15.0 ± 1.5 N/mm", "–") in sag_words.sag_table(check).rows
    assert ("wheel rate, secant", "86 ± 9 lb/in", "–") in sag_words.sag_table(check, Units.IN).rows
