"""The page of the guided check without a browser: the form, what one moment looks like, what is refused."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from analysis.holding import Verdict, Why, Word
from analysis.procedure import Taken, disagreement_mm, next_step, plan, rows, usual_mm
from dashboard import check_words, ids
from dashboard.app import create_app
from dashboard.drawings.check import NARROW_PX, WIDE_PX, check_ruler
from dashboard.guide import EndView, View
from dashboard.pages import check_form
from dashboard.pages.check_parts import parts_of, version_of
from dashboard.parts import look_of
from dashboard.theme import Theme, palette
from dashboard.units import Units
from ingest.live_view import Live
from ingest.records import End, Rider

LIVE = Live(
    status="recording", duration_s=161.0, samples=161_000, lost_samples=0, damaged=0, rate_hz=1000.0,
    counts=(1, 2), recent=(), message=None,
)  # fmt: skip
STEPS = plan(rounds=2)


def end_view(end: End, taken: list[Taken]) -> EndView:
    return EndView(
        end=end, travel_mm=230.0 if end is End.FRONT else 220.0, now_mm=46.8, recent_mm=(45.0, 49.0),
        unladen_mm=usual_mm(taken, end, "unladen"), rider_mm=None, target_mm=(64.4, 75.9), zeroed=True,
    )  # fmt: skip


def moment(count: int, why: Why = Why.SETTLING, off_mm: float = 0.0) -> View:
    """A check with ``count`` readings taken, the last of them ``off_mm`` off."""
    levels = (0.0, 30.0, 38.0, 30.2 + off_mm, 38.1, 43.0, 51.0, 43.2, 51.1, 0.1)
    taken: list[Taken] = []
    for mm in levels[:count]:
        step = next_step(STEPS, taken)
        assert step is not None
        taken.append(Taken(step=step, t_s=5.0 * len(taken), mm={End.FRONT: mm, End.REAR: mm / 2}))
    return View(
        live=LIVE,
        rows=rows(STEPS, taken),
        step=next_step(STEPS, taken),
        last=taken[-1].step if taken else None,
        verdict=Verdict(word=Word.SETTLING, why=why, end=End.FRONT, creep_mm=0.6, held_s=0.8, left_s=1.2),
        disagrees=disagreement_mm(taken),
        ends=tuple(end_view(end, taken) for end in End),
        rounds=2,
        confirmed=("Both brakes off",),
        version=count,
    )


def text_of(part: object) -> str:
    return json.dumps(part, default=lambda o: o.to_plotly_json(), ensure_ascii=False)


@pytest.mark.parametrize("narrow", [True, False])
@pytest.mark.parametrize("units", list(Units))
def test_one_moment(units: Units, narrow: bool) -> None:
    view = moment(5)
    made = parts_of(view, look_of(units, "light"), narrow=narrow)
    assert made.again == "Do 5 again"
    assert version_of(view) == {"version": 5, "done": 5}
    assert "Rider on. Lift it a hand’s width, let it down gently." in text_of(made.say)
    assert "reading 6 of 10" in text_of(made.say)
    still = text_of(made.still)
    far = "0.6 mm" if units is Units.MM else "0.02 in"
    assert f"Still creeping down, {far} over the last second. Hold on." in still
    assert still.count("aria-current") == 1
    assert ("46.8" if units is Units.MM else "1.84") in text_of(made.rulers)
    readings = text_of(made.readings)
    assert readings.count('"done"') == 5
    assert readings.count('"now"') == 1


def test_a_disagreement_stands_in_the_instruction() -> None:
    view = moment(4, off_mm=4.0)
    said = text_of(parts_of(view, look_of("mm", "light"), narrow=False).say)
    assert "Front lies 4.2 mm off its repeat. Take it once more." in said
    assert "Bike alone, let down (3)" in text_of([check_words.title(row.step, rounds=2) for row in view.rows])


def test_all_taken() -> None:
    made = parts_of(moment(10), look_of("mm", "dark"), narrow=True)
    assert "All readings are taken." in text_of(made.say)
    assert check_words.progress(moment(10)) == "all 10 readings taken"


def test_a_cable_pulled_out_is_said_where_the_strip_is() -> None:
    pulled = replace(moment(2), verdict=None, live=replace(LIVE, status="reconnecting", message="cable out"))
    made = parts_of(pulled, look_of("mm", "light"), narrow=False)
    assert "cable out" in text_of(made.still)
    assert "aria-current" not in text_of(made.still)
    lost = replace(pulled, live=replace(LIVE, lost_samples=12))
    assert "12 samples lost" in text_of(parts_of(lost, look_of("mm", "light"), narrow=False).rulers)


@pytest.mark.parametrize("now_mm", [None, -20.0, 0.0, 110.0, 400.0])
@pytest.mark.parametrize("narrow", [True, False])
def test_the_ruler_holds_whatever_the_wheel_does(now_mm: float | None, narrow: bool) -> None:
    for theme in Theme:
        for end in End:
            view = replace(end_view(end, []), now_mm=now_mm, recent_mm=None if now_mm is None else (-30, 500))
            drawn = check_ruler(
                view, Units.MM, palette(theme), longest_mm=230.0, narrow=narrow, title="a <ruler>"
            )
            width = NARROW_PX if narrow else WIDE_PX
            assert drawn.startswith(f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}"')
            assert "a &lt;ruler&gt;" in drawn
            assert palette(theme).hue(end) in drawn or now_mm is None


@pytest.fixture(scope="module")
def client(shop):
    return create_app(shop.book).server.test_client()


def ask(client, job: str) -> str:
    local = {"Host": "localhost"}
    client.get("/", headers=local)
    shown, asked = f"check-{ids.SHOWN}", f"check-{ids.ASKED}"
    answer = client.post(
        "/_dash-update-component",
        json={
            "output": f"{shown}.children",
            "outputs": {"id": shown, "property": "children"},
            "inputs": [
                {"id": asked, "property": "data", "value": {"job_id": job}},
                {"id": ids.UNITS, "property": "value", "value": "mm"},
                {"id": ids.THEME, "property": "value", "value": "light"},
            ],
            "changedPropIds": [f"{asked}.data"],
        },
        headers=local,
    )
    assert answer.status_code == 200
    return json.dumps(json.loads(answer.get_data(as_text=True)), ensure_ascii=False)


def test_the_form_of_a_job_and_of_none(client, shop) -> None:
    form = ask(client, shop.job)
    for text in ("Start the sag check", "Both brakes off", "stock", "rider 58 kg in gear, no luggage"):
        assert text in form
    assert "no such job" in ask(client, "4711")


def test_a_job_without_a_setup_says_what_comes_first(shop) -> None:
    job = replace(shop.book.job(shop.job), setups=(), rider=Rider(name="Mara L."))
    form = text_of(check_form.form(job, []))
    assert "First: a setup" in form
    assert "No board found." in form
    assert check_form.load_case(job) == "rider in gear, no luggage"
