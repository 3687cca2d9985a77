"""``compare --rank``, ``compare --test-day`` and what is said of a run, as somebody types them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.compare_results import Ranked, Ranking
from dashboard import cli, rank_words
from dashboard.units import Units
from ingest.log import Kind, Log
from ingest.log_file import read_header, write_log
from ingest.records import End, Setup

BIKE = """\
[bike]
name = "Workshop tall twin"
[front]
suspension = "telescopic fork"
travel_mm = 230
"""


@pytest.fixture
def shop(make_log: Callable[..., Log], tmp_path: Path) -> dict[str, Path]:
    """Two rides with each of two springs, and a sag check of one of them."""
    paths = {}
    t = np.arange(0.0, 30.0, 0.01)
    for name, mean_mm in (("hard spring", 60.0), ("soft spring with a name too long for its column", 90.0)):
        for run in range(2):
            random = np.random.default_rng([run, int(mean_mm)])
            phases = random.uniform(0, 2 * np.pi, 30)[:, None]
            wave = mean_mm + 4 * np.sin(2 * np.pi * random.uniform(0.4, 4, 30)[:, None] * t + phases).sum(
                axis=0
            )
            log = make_log(wave, 0.9 * wave, rate_hz=100.0)
            path = tmp_path / f"{name.split()[0]}{run}.parquet"
            write_log(replace(log, id=path.stem, setup=Setup(name=name)), path)
            paths[path.stem] = path
    still = np.concatenate([np.full(800, mm) for mm in (0.0, 30.0, 36.0, 60.0, 66.0)])
    marks = [
        (float(2 + 4 * k), text)
        for k, text in enumerate(
            (
                "topped out",
                "unladen, from above",
                "unladen, from below",
                "rider, from above",
                "rider, from below",
            )
        )
    ]
    sag = make_log(still, still, rate_hz=200.0, kind=Kind.SAG, marks=marks)
    paths["sag"] = tmp_path / "sag.parquet"
    write_log(replace(sag, id="sag", setup=Setup(name="hard spring")), paths["sag"])
    return paths


def run(capsys: pytest.CaptureFixture[str], *argv: object) -> tuple[int, str, str]:
    status = cli.main([str(arg) for arg in argv])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_rank_in_words_and_json(shop: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "compare", *shop.values(), "--rank")
    assert status == 0
    assert max(map(len, out.splitlines())) <= 80
    for said in (
        "place",
        "hard spring",
        "soft spring with a name…",
        "the rule:",
        "27 %",
        "how often in 10 min",
    ):
        assert said in out
    assert "equal rider sag not known" in " ".join(out.split())
    status, out, _ = run(capsys, "compare", *shop.values(), "--rank", "--json")
    said = json.loads(out)
    assert {one["setup"] for one in said["ranked"]} >= {"hard spring"}
    assert all({"place", "runs", "best_at", "worst_at", "equal_sag"} <= set(one) for one in said["ranked"])
    assert said["rule"]


def test_test_day_in_words_and_json(shop: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    rides = (shop["hard0"], shop["hard1"])
    status, out, _ = run(capsys, "compare", *rides, "--test-day", "front_mean_mm=8")
    assert status == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "to see a change of 8.0 mm in the front mean ride position:" in out
    assert "runs a side" in out
    status, out, _ = run(capsys, "compare", rides[0], "--test-day", "front_mean_mm=8", "--json")
    said = json.loads(out)
    assert said["between_runs_sd"] is None
    assert "guess" in said["basis"]


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        (["--test-day", "front_mean_mm"], "write it like --test-day front_mean_mm=5"),
        (["--test-day", "front_mean_mm=much"], "'much' is not a number"),
        (["--test-day", "front_travel_used_mm=5"], "is one moment"),
        (["--rank"], "a ranking needs rides of two setups"),
        ([], "needs a ride after the work"),
        (["--rank", "--test-day", "front_mean_mm=5"], "not allowed with"),
    ],
)
def test_wrong_use(
    shop: dict[str, Path], extra: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, _, err = run(capsys, "compare", shop["hard0"], *extra)
    assert status == 2
    assert says in err


def test_words_of_a_ranking() -> None:
    one = Ranked(
        setup="hard",
        place=1,
        runs=3,
        minutes=15.0,
        rider_sag_percent=(29.6, None),
        equal_sag=True,
        best_at=("bottoms least often (front)",),
        worst_at=(),
        metrics=(("front_mean_mm", 76.2), ("front_travel_used_percent", 91.4)),
    )
    ranking = Ranking(ranked=(one, replace(one, setup="soft", best_at=())), rule="", uncertain=())
    assert rank_words.place_table(ranking).rows[0] == ("1, shared", "hard", "3", "15.0", "30 %", "–")
    assert rank_words.traits(ranking) == (
        "hard: best at: bottoms least often (front)",
        "soft: nothing that chance does not explain",
    )
    table = rank_words.numbers_table(ranking, End.FRONT, Units.IN)
    assert table.head == ("front", "rides at, in", "deepest")
    assert table.rows[0][1:] == ("3.0", "91 %")


def test_import_and_amend_what_is_said_of_a_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bike, csv, out = (tmp_path / name for name in ("bike.toml", "ride.csv", "ride.parquet"))
    bike.write_text(BIKE, encoding="utf-8")
    rows = "\n".join(f"{k / 100:.2f},{50 + k % 7}" for k in range(2000))
    csv.write_text(f"time_s,front_mm\n{rows}\n", encoding="utf-8")
    argv = ["import", csv, "--bike", bike, "--kind", "ride", "--out", out, "--load-case", "solo, full tank"]
    status, _, err = run(capsys, *argv, "--tyres-kpa", "2.2,2.5")
    assert (status, out.exists()) == (2, False)
    assert "1 bar is 100 kPa" in err
    assert run(capsys, *argv, "--route", "gravel pit", "--tyres-kpa", "220,250", "--warm", "no")[0] == 0
    log = read_header(out)
    assert log.load_case == "solo, full tank"
    assert (log.run.route, log.run.front_tyre_kpa, log.run.warmed_up) == ("gravel pit", 220.0, False)
    assert run(capsys, "amend", out, "--warm", "yes", "--tyres-kpa", ",240", "--by", "Jo")[0] == 0
    log = read_header(out)
    assert (log.run.route, log.run.front_tyre_kpa, log.run.rear_tyre_kpa) == ("gravel pit", 220.0, 240.0)
    assert log.run.warmed_up is True
    status, _, err = run(capsys, "amend", out, "--warm", "yes", "--note", "rain")
    assert status == 2
    assert "one correction at a time" in err
