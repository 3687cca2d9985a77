"""The printed sag card without a browser: every cell says something, and what is missing says why."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from analysis.effective import effective_bike
from analysis.results import EndSag, MeasuredRate, PreloadChange, Quantity, SagCheck
from analysis.sag_advice import SAFETY
from dashboard import sag_card_words as words
from dashboard.answers import Answers
from dashboard.pages.card import sheet
from dashboard.parts import Look
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.log import Kind, Log, Mark
from ingest.records import Bike, End, Rider, Setup, Suspension

LOOK = Look(units=Units.MM, theme=Theme.DARK)
NASTY = '<script>alert(1)</script> & "co"'


def q(value: float, doubt: float) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


CHANGE = PreloadChange(
    change_mm=q(-9.5, 1.0),
    turns=-6.3,
    one_leg_mm=None,
    sag_mm_per_mm=2.4,
    preload_now_mm=12.0,
    preload_after_mm=2.5,
    unladen_after_mm=q(21.0, 3.0),
    target_unladen_mm=(11.0, 31.0),
    spring_word="fits",
    allowed=True,
)
RATE = MeasuredRate(
    secant_n_mm=q(16.6, 3.1),
    from_mm=12.0,
    to_mm=41.5,
    sag_change_mm=q(29.5, 1.5),
    load_change_kg=q(40.0, 5.0),
    load_basis="scales",
    expected_n_mm=16.8,
    word="as expected",
    dominates="change of load",
    would_tell=None,
)
REAR = EndSag(
    travel_mm=220.0,
    unladen_sag_mm=q(12.0, 1.0),
    rider_sag_mm=q(41.5, 1.4),
    unladen_sag_percent=5.5,
    rider_sag_percent=18.9,
    friction_band_mm=2.5,
    target_sag_mm=(62.0, 73.0),
    word="too little",
    zero_reading=88.0,
    readings=(),
    wheel_rate=RATE,
    preload=CHANGE,
)
BARE = replace(
    REAR,
    unladen_sag_mm=None,
    rider_sag_mm=None,
    friction_band_mm=None,
    target_sag_mm=None,
    word="cannot tell",
    wheel_rate=None,
    preload=None,
    cautions=("front: rider sag was not measured: no still span was named rider",),
)
CHECK = SagCheck(
    log_id="a-sag-1", front=BARE, rear=REAR, advice=("Do this first.", SAFETY), software="flatfoot"
)


@pytest.fixture
def log(bike: Bike) -> Log:
    return Log(
        id="a-sag-1",
        kind=Kind.SAG,
        started="2026-11-24T09:20:00+00:00",
        bike=bike,
        channels=(),
        segments=(),
        marks=(Mark(t_s=1.0, text="rider, from above, arms bent"),),
        rider=Rider(name=NASTY, mass_kg=58.0),
        setup=Setup(name="stock"),
        load_case="tank half full",
        notes="confirmed: both brakes off",
        job="0147",
    )


def as_text(made: object) -> str:
    from plotly.utils import PlotlyJSONEncoder

    return json.dumps(made, cls=PlotlyJSONEncoder, ensure_ascii=False)


def rows(check: SagCheck, bike: Bike, units: Units = Units.MM) -> dict[str, list[str]]:
    return {name: cells for name, *cells in words.measured_table(check, bike, units).rows}


def test_the_numbers_stand_under_their_end(bike: Bike) -> None:
    made = {name: cells[1] for name, cells in rows(CHECK, bike).items()}
    assert made["unladen sag"] == "12.0 ± 1.0 mm, 5.5 % of travel"
    assert made["rider sag"] == "41.5 ± 1.4 mm, 18.9 % of travel"
    assert made["friction"] == "±2.5 mm"
    assert made["target"] == "62–73 mm, 28–33 % of travel"
    assert made["in a word"] == "too little"
    assert made["wheel rate, secant"] == "16.6 ± 3.1 N/mm: as expected (16.8)"
    unclear = replace(CHECK, rear=replace(REAR, wheel_rate=replace(RATE, word="cannot tell")))
    assert rows(unclear, bike)["wheel rate, secant"][1] == "16.6 ± 3.1 N/mm: cannot tell (expected 16.8)"
    assert made["preload now"] == "12.0 mm"
    assert made["preload change"] == "−9.5 ± 1.0 mm, −6.3 turns"
    assert made["the spring"] == "fits: unladen then 21.0 ± 3.0 of 11–31 mm"
    assert rows(CHECK, bike, Units.IN)["rider sag"][1].startswith("1.63 ± 0.06 in")


def test_feet_down_and_rolling_sag_have_a_row_where_somebody_marked_them(bike: Bike) -> None:
    assert "rolling sag" not in rows(CHECK, bike)
    made = rows(replace(CHECK, rear=replace(REAR, rolling_sag_mm=q(42.0, 1.2))), bike)
    assert made["rolling sag"] == ["not measured", "42.0 ± 1.2 mm"]
    assert "feet-down sag" not in made


def test_every_empty_cell_says_why(bike: Bike) -> None:
    for name, cells in rows(CHECK, bike).items():
        if name != words.WORD_ROW:
            assert cells[0].startswith((f"{words.NOT_KNOWN}: ", f"{words.NOT_MEASURED}: ")), name
    assert "no still span was named rider" in rows(CHECK, bike)["rider sag"][0]
    one_end = rows(replace(CHECK, front=None), bike)
    assert one_end["unladen sag"][0] == "not measured: no sensor in this log"


def test_a_refused_change_says_what_forbids_it(bike: Bike) -> None:
    refused = replace(
        CHANGE, allowed=False, refused_because=("the spring would be loose",), spring_word="too stiff"
    )
    made = rows(replace(CHECK, rear=replace(REAR, preload=refused)), bike)
    assert made["preload change"][1] == "−9.5 ± 1.0 mm, −6.3 turns: refused, the spring would be loose"
    assert made["the spring"][1] == "too stiff: preload alone cannot do it"
    right = rows(replace(CHECK, rear=replace(REAR, word="right")), bike)
    assert right["preload change"][1].startswith("leave it; ")


@pytest.mark.parametrize(
    ("drop", "said"),
    [
        (q(24.0, 2.0), "At correct sag the seat is 24.0 ± 2.0 mm lower"),
        (q(-8.0, 2.0), "At correct sag the seat is 8.0 ± 2.0 mm higher"),
        (q(1.0, 2.0), "the seat stays where it is, as far as can be told: seat drop 1.0 ± 2.0 mm"),
        (None, "not known: the rider sag of the front was not measured"),
    ],
)
def test_the_seat_line_says_which_way_or_what_is_missing(
    bike: Bike, drop: Quantity | None, said: str
) -> None:
    assert said in words.seat_line(replace(CHECK, seat_drop_mm=drop), bike)


def test_without_rake_the_seat_drop_says_so(bike: Bike) -> None:
    whole = replace(CHECK, front=REAR)
    assert "the bike file has no rake" in words.seat_line(whole, replace(bike, rake_deg=None))


def test_the_headline_answers() -> None:
    assert words.headline(replace(CHECK, front=REAR)) == "Sag front and rear: too little."
    assert words.headline(replace(CHECK, front=None)) == "Front: not measured. Rear: too little."
    assert words.headline(CHECK) == "Front: not measured. Rear: too little."


def test_the_sheet_has_what_a_signature_needs_and_text_stays_text(bike: Bike, log: Log) -> None:
    made = as_text(sheet("Kestrel <Lane>", log, CHECK, bike, LOOK))
    for wanted in (
        "Kestrel <Lane>",
        "Job 0147",
        "2026-11-24 09:20",
        "Log a-sag-1, flatfoot",
        "58 kg in gear",
        "tank half full",
        "feet on the pegs",
        "Marked: arms bent",
        "confirmed: both brakes off",
        "Settings: stock",
        "Do this first.",
        "for the shop, date",
        "rider, date",
    ):
        assert wanted in made, wanted
    assert made.index("Front: not measured.") < made.index("Do this first.") < made.index("unladen sag")
    assert made.count(SAFETY) == 1
    assert json.dumps(NASTY)[1:-1] in made  # as text, which React escapes
    assert "dangerously" not in made
    assert "%3Cscript" not in made  # nor does a drawing carry it


def test_what_does_not_fit_is_counted(bike: Bike, log: Log) -> None:
    much = replace(CHECK, advice=tuple(f"{n}: " + "word " * 60 for n in range(12)))
    made = as_text(sheet("Shop", log, much, bike, LOOK))
    shown = sum(f'"{n}: word' in made for n in range(12))
    assert 1 <= shown < 12
    assert f"… and {12 - shown} more on the sag page of this log." in made


def test_the_first_line_is_cut_rather_than_left_out(bike: Bike, log: Log) -> None:
    made = as_text(sheet("Shop", log, replace(CHECK, advice=("first " * 900, "second")), bike, LOOK))
    assert "first first" in made
    assert "first…" in made
    assert "… and 1 more on the sag page of this log." in made


def test_settings_name_what_is_known_of_each_end() -> None:
    bike = Bike(name="bare", rear=Suspension(kind="direct", travel_mm=200.0, rebound_clicks=10))
    front, rear = words.settings_rows(bike)
    assert front == ("front", "not known: not in the bike file")
    assert rear == ("rear", "travel 200 mm, rebound clicks 10")


def test_a_whole_check_fills_the_sheet(shop) -> None:
    answers = Answers(shop.book)
    log, check = answers.header(shop.sag[0]), answers.sag(shop.sag[0])
    assert log is not None
    made = as_text(sheet(answers.book.shop, log, check, effective_bike(log.bike, log.setup), LOOK))
    for found in (check.front, check.rear):
        assert found is not None
        assert found.rider_sag_mm is not None
        assert f"{found.rider_sag_mm.value:.1f} ± {found.rider_sag_mm.expanded_uncertainty:.1f} mm" in made
    assert [end for end in End if f'"{end}"' in made] == list(End)
