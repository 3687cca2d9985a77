"""Before and after on the screen: the answer first, what it rests on, several runs a side, test days."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from analysis.compare_results import Answer, BottomingForecast, Comparison, Likeness, Metric, Ranked, Ranking
from dashboard import forecast_words, ids, likeness_words
from dashboard.answers import Answers
from dashboard.app import create_app
from dashboard.compared import gather
from dashboard.pages import compare, compare_cards, compare_work, rank
from dashboard.pages.job import offered
from dashboard.parts import Look
from dashboard.shell import compare_address, rides_by_setup
from dashboard.theme import Theme
from dashboard.units import Units
from ingest.errors import UsageError
from ingest.log import Kind
from ingest.records import End, Setup

LOOK = Look(units=Units.MM, theme=Theme.LIGHT)
INCHES = Look(units=Units.IN, theme=Theme.DARK)
LOCAL = {"Host": "localhost"}


@pytest.fixture(scope="module")
def answers(shop):
    return Answers(shop.book)


@pytest.fixture(scope="module")
def compared(shop, answers):
    before, after = (answers.header(log_id) for log_id in shop.rides)
    return gather(answers, [before], [after])


@pytest.fixture(scope="module")
def client(shop):
    made = create_app(shop.book).server.test_client()
    made.get("/", headers=LOCAL)  # Dash readies its callbacks at the first request
    return made


def post(client, output: str, inputs: list[dict], state=()) -> str:
    answer = client.post(
        "/_dash-update-component",
        json={
            "output": output,
            "outputs": dict(zip(("id", "property"), output.split("."), strict=True)),
            "inputs": inputs,
            "changedPropIds": [f"{inputs[0]['id']}.{inputs[0]['property']}"],
            "state": list(state),
        },
        headers=LOCAL,
    )
    assert answer.status_code == 200, answer.get_data(as_text=True)[:300]
    return json.dumps(json.loads(answer.get_data(as_text=True)), ensure_ascii=False)


def value(name: str, given: object, prop: str = "value") -> dict[str, object]:
    return {"id": name, "property": prop, "value": given}


def ask(client, name: str, asked: object, units: str = "mm") -> str:
    look = [value(ids.UNITS, units), value(ids.THEME, "light")]
    page = [value(f"{name}-{ids.ASKED}", asked, "data"), *look]
    return post(client, f"{name}-{ids.SHOWN}.children", page)


def text(component: object) -> str:
    """All that a part of a page says."""
    if isinstance(component, list | tuple):
        return "\n".join(text(one) for one in component)
    if hasattr(component, "to_plotly_json"):
        return text(getattr(component, "children", ""))
    return "" if component is None else str(component)


# ---------------------------------------------------------------------------------------- the page


def test_the_answer_comes_first_then_rulers_numbers_and_what_they_rest_on(client, shop, compared) -> None:
    comparison = compared.comparison
    said = ask(client, "compare", {"before": shop.rides[0], "after": shop.rides[1]})
    for line in (*comparison.answer.because, comparison.rule):
        assert json.dumps(line, ensure_ascii=False)[1:-1] in said
    for metric in comparison.metrics:
        if metric.unit == "mm":
            assert f"{metric.before:.1f}" in said
            assert f"{metric.after:.1f}" in said
    order = (
        "Does the bike use",
        "What was changed",
        "Sag at rest",
        "given up",
        "Travel, mm",
        "Measured while",
    )
    assert [said.index(title) for title in order] == sorted(said.index(title) for title in order)
    for title in ("How often it bottoms", "What to ride next", "The rides", "Plan a test day"):
        assert title in said
    assert "one moment" in said
    assert "these rides only, run-to-run spread unknown" in said
    assert "Rank the setups" not in said  # two setups are a comparison


def test_the_method_is_folded_and_the_warnings_are_open(compared) -> None:
    (fold,) = [
        one
        for one in compare_cards.answer(compared.comparison).children
        if getattr(one, "className", None) == "ff-fold"
    ]
    assert "run-to-run spread unknown" in text(fold)
    assert compared.comparison.rule in text(fold)
    assert not getattr(fold, "open", False)
    many = replace(compared.comparison, cautions=(*compared.comparison.method, *"abcdef"))
    (box,) = compare_cards.mind(many)
    assert "2 more" in text(box)
    assert "run-to-run" not in text(box)


def test_every_depth_says_its_change_in_shares_of_travel_too(compared) -> None:
    said = text(compare_cards.measured(compared, LOOK))
    for metric in compared.comparison.metrics:
        if metric.name.endswith(("mean_mm", "p95_mm")):
            assert f"{metric.change_percent_of_travel:+.1f} %".replace("-", "−") in said


def test_sag_before_and_after_comes_from_the_checks_of_the_two_setups(answers, compared, shop) -> None:
    (card,) = compare_work.sag(compared, LOOK)
    for sag_id in shop.sag:
        check = answers.sag(sag_id)
        for end in (check.front, check.rear):
            assert f"{end.rider_sag_mm.value:.1f} ± {end.rider_sag_mm.expanded_uncertainty:.1f}" in text(card)
    bare = replace(
        compared, before=replace(compared.before, sag=None), after=replace(compared.after, sag=None)
    )
    assert compare_work.sag(bare, LOOK) == []


def test_what_changed_names_what_stayed_once(compared) -> None:
    said = text(compare_work.changed(compared, LOOK)).split("\n")
    assert said[said.index("front: spring rate") + 1 :][:2] == ["14.5 N/mm", "10.5 N/mm"]
    assert said[said.index("rider") + 1 :][:2] == ["same", "same"]
    assert said[said.index("load case, route, tyre pressures, warmed up") + 1 :][:2] == ["not noted"] * 2


def test_what_was_given_up_is_what_differs(compared) -> None:
    said = text(compare_work.given_up(compared, LOOK))
    before, after = (side.end(End.FRONT) for side in compared.sides)
    assert f"{before.left_mm:.0f}\n{after.left_mm:.0f}" in said
    assert "As before: full travel" in said
    assert "Full travel, mm" not in said
    assert f"{before.left_mm / 25.4:.1f}" in text(compare_work.given_up(compared, INCHES))


def test_bottoming_by_grade_leaves_out_what_never_happened(compared) -> None:
    said = text(compare_work.bottoming(compared))
    rear = compared.after.end(End.REAR)
    met = [name for grade, name in compare_work.GRADES if rear.graded_per_10_min[grade]]
    assert met  # the ride touches the stop once at the rear
    assert all(f"{name}, in 10 min" in said for name in met)
    never = {name for _, name in compare_work.GRADES} - set(met)
    assert all(name.lower() in said.partition("Never on these rides: ")[2] for name in never)


def test_an_address_with_thousands_of_rides_is_refused_unread(client, shop) -> None:
    many = ",".join([shop.rides[0]] * 4000)
    assert "more than 20 rides a side" in ask(client, "compare", {"before": many, "after": shop.rides[1]})
    twice = ask(client, "compare", {"before": shop.rides[0], "after": shop.rides[0]})
    assert f"log {shop.rides[0]} was given twice" in twice


# ----------------------------------------------------------------------------------- choosing the runs


def test_the_compare_button_says_what_comes_first() -> None:
    assert offered([], ["b"]).disabled
    assert "both sides" in offered(["a"], ["a"]).children
    made = offered(["a", "b"], ["c"])
    assert made.href == "/compare?before=a,b&after=c"
    assert made.children == "Compare 2 before with 1 after"


def test_the_first_setup_against_the_last_is_offered_also_when_it_was_put_back(shop) -> None:
    logs = shop.book.logs(shop.job)
    assert compare_address(logs) == f"/compare?before={shop.rides[0]}&after={shop.rides[1]}"
    stock, lowered = (next(log for log in logs if log.id == ride) for ride in shop.rides)
    assert compare_address([stock]) is None
    again = replace(stock, id="again")
    newest_first = [again, lowered, stock]
    assert list(rides_by_setup(newest_first)) == ["stock", "softer springs"]
    assert compare_address(newest_first) == f"/compare?before=again,{stock.id}&after={lowered.id}"
    assert compare_address([again, stock]) == f"/compare?before={stock.id}&after=again"
    third = replace(stock, id="third", setup=Setup(name="stiff spring"))
    assert compare_address([third, *newest_first]) == f"/compare?before=again,{stock.id}&after=third"


# ------------------------------------------------------------------------------------------ test days


def test_a_test_day_is_planned_in_the_units_shown(client, shop, answers) -> None:
    state = [
        value(ids.DAY_METRIC, "front_mean_mm"),
        value(ids.DAY_CHANGE, "0,5"),
        value(f"compare-{ids.ASKED}", {"before": shop.rides[0], "after": shop.rides[1]}, "data"),
        value(ids.UNITS, "in"),
        value(ids.THEME, "light"),
    ]
    said = post(client, f"{ids.DAY_SHOWN}.children", [value(ids.DAY_PLAN, 1, "n_clicks")], state)
    assert "To see a change of 0.50 in in the front mean ride position" in said
    day = answers.test_day([shop.rides[1]], "front_mean_mm", 12.7)
    assert day.options
    assert all(f"{minutes:.1f}" in said for _, minutes in day.options)
    state[1] = value(ids.DAY_CHANGE, "a lot")
    said = post(client, f"{ids.DAY_SHOWN}.children", [value(ids.DAY_PLAN, 2, "n_clicks")], state)
    assert "'a lot' is no number" in said


def test_the_side_with_more_runs_plans_the_test_day(answers, shop) -> None:
    asked: list[list[str]] = []

    class Watching:
        def test_day(self, rides, *_):
            asked.append(rides)
            raise UsageError("enough")

    logs = [log for log in shop.book.logs(shop.job) if log.kind is Kind.RIDE]
    for before, after, wanted in ((logs[:1], logs[1:], 1), (logs, logs[:1], 2)):
        with pytest.raises(UsageError):
            compare.planned(Watching(), (before, after), "front_mean_mm", "5", LOOK)
        assert len(asked[-1]) == wanted


# ---------------------------------------------------------------------------------------------- ranking


def test_setups_of_a_job_are_ranked(client, shop, answers) -> None:
    said = ask(client, "rank", {"job": shop.job})
    ranking = answers.ranking({"stock": [shop.rides[0]], "softer springs": [shop.rides[1]]})
    for wanted in ("Which setup is better?", "stock", "softer springs", json.dumps(ranking.rule)[1:-1]):
        assert wanted in said
    assert "no such job in this book" in ask(client, "rank", {"job": "9999"})


def test_a_ranking_says_who_is_first_and_whether_the_sag_was_equal() -> None:
    one = Ranked(
        setup="A", place=1, runs=3, minutes=9.0, rider_sag_percent=(30.0, 31.0), equal_sag=True,
        best_at=("tops out least often (front)", "tops out least often (rear)"), worst_at=(),
        metrics=(("front_mean_mm", 70.0),),
    )  # fmt: skip
    other = replace(one, setup="B", place=2, best_at=())
    said = text(rank.page_of(Ranking(ranked=(one, other), rule="R", uncertain=()), LOOK))
    for wanted in ("A\n comes first.", "same rider sag", "(front and rear)", rank.NOTHING_SAID):
        assert wanted in said
    shared = (one, replace(other, place=1, equal_sag=False))
    said = text(rank.page_of(Ranking(ranked=shared, rule="R", uncertain=()), LOOK))
    assert "A and B\n share the first place." in said
    assert "not ridden at the same rider sag" in said


# --------------------------------------------------------------------------------------------- words

FORECAST = BottomingForecast(
    end=End.FRONT, per_hour=11.6, interval=(0.42, 31.0), basis="fitted tail", peaks=60, events=2, hours=0.25,
    threshold_mm=150.0, shape=-0.1, scale_mm=20.0, cautions=("front: the deep bumps come in clumps, so …",),
)  # fmt: skip


def test_a_forecast_says_its_interval_its_bound_or_why_there_is_none() -> None:
    bound = replace(FORECAST, per_hour=None, interval=(0.0, 7.3), basis="no event: upper bound", events=0)
    few = replace(
        bound, interval=None, basis="not enough data", cautions=("front: 12 deep bumps are too few",)
    )
    assert forecast_words.often(FORECAST) == "12 (0.4 to 31)"
    assert forecast_words.often(bound) == "at most 7"
    assert forecast_words.often(few) == "not enough data"
    answer = Answer(verdict="changed", uses_its_travel="yes", because=())
    made = Comparison(before=(), after=(), metrics=(), answer=answer)
    assert forecast_words.forecast_table(made).rows == ()
    made = replace(made, forecasts_before=(FORECAST,), forecasts_after=(few,))
    assert forecast_words.forecast_table(made).rows == (("front", "12 (0.4 to 31)", "not enough data"),)
    assert forecast_words.forecast_lines(made) == (
        "before, front: it bottomed 2 times in 15.0 min; rests on the 60 deepest bumps",
        "before, front: the deep bumps come in clumps, so …",
        "after, front: 12 deep bumps are too few",
    )


def test_what_differs_is_said_first_and_nothing_twice() -> None:
    rows = (
        Likeness(what="length", before="60 s", after="60 s", word="alike"),
        Likeness(what="rider", before="A", after="B", word="differs", says="the rider differs"),
        Likeness(what="route", before="not noted", after="x", word="unknown"),
    )
    answer = Answer(verdict="changed", uses_its_travel="yes", because=())
    made = Comparison(
        before=(), after=(), metrics=(), answer=answer, likeness=rows, method=("m",),
        cautions=("m", "something", "the rider differs"),
    )  # fmt: skip
    assert likeness_words.warnings(made) == ("the rider differs", "something")
    assert likeness_words.alike_lines(made) == ("Alike: length.", "Differs: rider.", "Not known: route.")
    assert likeness_words.likeness_table(made).rows[2] == ("route", "not noted", "x", "not known")
    assert "scatter of the runs" in likeness_words.basis_line(replace(made, basis="runs"))


def test_a_metric_without_an_interval_is_not_called_a_change(compared) -> None:
    one = Metric(name="front_travel_used_percent", unit="%", before=86.96, after=100.57, change=13.61,
                 ci95=None, changed=False)  # fmt: skip
    made = replace(compared, comparison=replace(compared.comparison, metrics=(one,)))
    said = text(compare_cards.measured(made, LOOK)).split("\n")
    assert said[said.index("Deepest, % of travel") :][:7] == [
        "Deepest, % of travel", "F", "87.0", "100.6", "+13.6", "one moment", "not counted",
    ]  # fmt: skip
