"""The lowering plan of a job: how much, by which means, what each gives up, and after the work what came."""

from __future__ import annotations

import secrets
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import ids
from dashboard.answers import Answers
from dashboard.page import Asked, add_page, answer, shell_of
from dashboard.pages import plan_form, plan_parts, plan_proof
from dashboard.parts import Look, card, cautions, look_of, not_found, page_head
from dashboard.plan_job import keep_plan
from dashboard.plan_measures import MM_PER_INCH, on_a_page
from dashboard.plan_shown import Shown, shown
from dashboard.safety import SAFETY
from dashboard.shell import Step, job_bar
from dashboard.units import Units
from ingest.errors import FlatfootError, UsageError
from ingest.log import Kind
from ingest.records import Job

SHOWN = f"plan-{ids.SHOWN}"
ASKED = f"plan-{ids.ASKED}"
FIRST_RIDE = SAFETY[2:4]


def register(app: Dash, answers: Answers) -> None:
    """Add the page, and what its slider, its ways and its buttons do."""

    def show(asked: Asked, look: Look) -> Any:
        job = answers.job(asked.get("job_id"))
        if job is None:
            return shell_of(not_found("There is no such job in this book."))
        state = shown(answers, job, setup=asked.get("setup"))
        return [
            job_bar(job, state.logs, Step.PLAN),
            html.Div(page_of(state, look), className="ff-page ff-plan"),
        ]

    add_page(app, "plan", title="Lowering plan", path_template="/plan/<job_id>", show=show)
    _register_amount(app, answers)
    _register_buttons(app, answers, show)

    @app.callback(
        Output(ids.PLAN_PROOF, "children"),
        Input(ids.PLAN_PROVE, "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
    )
    def prove(job_id: Any, units: Any, theme: Any) -> Any:
        job = answers.job(job_id if isinstance(job_id, str) else None)
        if job is None:
            raise PreventUpdate
        return answer(lambda: plan_proof.proof_card(answers, job, look_of(units, theme)))


def page_of(state: Shown, look: Look) -> list[Any]:
    """Lay out the page: the bike and how much, the proof, the ways, one of them in full, what to measure."""
    safe = html.Section(
        [html.H2("Before the first ride"), html.Ul([html.Li(one) for one in FIRST_RIDE])],
        className="ff-card ff-caution",
    )
    drawn = html.Div(plan_parts.picture(state, look), id=ids.PLAN_DRAWING)
    first = html.Div(
        [
            html.Div([html.Section(drawn, className="ff-card"), safe]),
            html.Div(
                [
                    plan_parts.how_much(state, look),
                    plan_parts.slider(state, look),
                    *plan_parts.kept(state, look),
                ]
            ),
        ],
        className="ff-columns ff-plan-first",
    )
    more = html.Div(
        [
            html.Div(
                [
                    card("This way in full", html.Div(plan_parts.told(state, look), id=ids.PLAN_TOLD)),
                    *cautions([one for one in SAFETY if one not in FIRST_RIDE]),
                ]
            ),
            html.Div(
                [
                    _next(state, look),
                    html.Div(plan_form.form(state.job, look), className="ff-noprint"),
                ]
            ),
        ],
        className="ff-columns ff-halves",
    )
    return [
        page_head("Lowering plan", _from(state)),
        first,
        *_proof(state),
        card("Ways", html.Div(plan_parts.ways(state, look), id=ids.PLAN_WAYS, className="ff-cells")),
        more,
        dcc.Store(id=ids.PLAN_WAY),
        dcc.Store(id=ids.PLAN_FILLED, data=secrets.token_hex(8)),  # tells this filling from earlier ones
    ]


def _from(state: Shown) -> Any:
    """Say which setup and sag check it is planned from, and offer the others that were checked."""
    if state.sag is None:
        return "from the bike file: no sag check yet"
    names = dict.fromkeys(
        log.setup.name for log in reversed(state.logs) if log.kind is Kind.SAG and log.setup is not None
    )
    said: list[Any] = [f"from {state.setup or 'the bike file'}, sag check of {state.sag.started[:10]}"]
    for name in names:
        if name != state.setup:
            said += [
                " · ",
                dcc.Link(f"from {name}", href=f"/plan/{state.job.id}?setup={name}", className="ff-noprint"),
            ]
    return said


def _proof(state: Shown) -> list[Any]:
    if not plan_proof.to_prove(state.job, state.logs):
        return []
    waiting = card(plan_proof.TITLE, html.P("Reading the rides before and after …", role="status"))
    return [html.Div(waiting, id=ids.PLAN_PROOF), dcc.Store(id=ids.PLAN_PROVE, data=state.job.id)]


def _next(state: Shown, look: Look) -> Any:
    """Say what to measure next, and what was assumed."""
    found = state.plan
    lines = [
        on_a_page(one, look.units)
        for one in (*found.warnings, *found.cautions)
        if not one.startswith(plan_parts.TRAP)
    ]
    if not lines:
        return card("Measure next", html.P("Nothing: all that this plan uses was measured."))
    return card("Measure next, and mind", html.Ul([html.Li(one) for one in lines]))


# -------------------------------------------------------------------------------------------- callbacks


def _register_amount(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output(ids.PLAN_DRAWING, "children"),
        Output(ids.PLAN_READ, "children"),
        Output(ids.PLAN_WAYS, "children"),
        Output(ids.PLAN_TOLD, "children"),
        Output(ids.PLAN_OFFER, "children"),
        Output(ids.PLAN_AMOUNT, "value"),
        Output(ids.PLAN_NUMBER, "value"),
        Output(ids.PLAN_STATE, "data"),
        Input(ids.PLAN_AMOUNT, "value"),
        Input(ids.PLAN_NUMBER, "value"),
        Input(ids.PLAN_WAY, "data"),
        State(ids.PLAN_STATE, "data"),
        State(ids.PLAN_FILLED, "data"),
        State(ASKED, "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
    )
    def move(
        amount: Any, number: Any, way: Any, before: Any, filled: Any, asked: Any, units: Any, theme: Any
    ) -> Any:
        look = look_of(units, theme)
        job, setup = _job_of(answers, asked)
        if job is None:
            raise PreventUpdate
        mine = _state_of(before, job, setup)
        again = bool(mine) and mine.get("filled") != filled  # filled anew: it takes up where it was left
        by = "" if again else ctx.triggered_id
        try:
            wish = _number(amount)
            if again:
                wish = _number(mine.get("amount"))
            elif by == ids.PLAN_NUMBER:
                wish = _typed(number, look.units)
            chosen = way if isinstance(way, str) else mine.get("way")
            state = shown(answers, job, setup=setup, amount_mm=wish, way=chosen)
        except FlatfootError as problem:
            return no_update, html.P(str(problem), role="alert"), *[no_update] * 6
        known = {"of": [job.id, setup], "amount": state.amount_mm, "way": chosen, "filled": filled}
        return (
            plan_parts.picture(state, look),
            plan_parts.amount_read(state, look),
            plan_parts.ways(state, look),
            plan_parts.told(state, look),
            plan_parts.offer(state),
            no_update if by == ids.PLAN_AMOUNT else state.amount_mm,
            no_update if by == ids.PLAN_NUMBER else plan_parts.typed(state.amount_mm or 0.0, look.units),
            known,
        )


def _job_of(answers: Answers, asked: Any) -> tuple[Job | None, str | None]:
    known = asked if isinstance(asked, dict) else {}
    job_id, setup = known.get("job_id"), known.get("setup")
    job = answers.job(job_id if isinstance(job_id, str) else None)
    return job, setup if isinstance(setup, str) else None


def _state_of(before: Any, job: Job, setup: str | None) -> dict[str, Any]:
    """Take what was set before on the page of this plan, nothing where it was another's."""
    return before if isinstance(before, dict) and before.get("of") == [job.id, setup] else {}


def _typed(number: Any, units: Units) -> float:
    """Read the field: mm, or inches where they are shown."""
    value = _number(number)
    if value is None:
        raise UsageError("type a plain number")
    return round(value * (MM_PER_INCH if units is Units.IN else 1.0), 2)


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    try:
        return float(value)
    except ValueError:
        return None


def _register_buttons(app: Dash, answers: Answers, show: Any) -> None:
    @app.callback(
        Output(SHOWN, "children", allow_duplicate=True),
        Output(ids.PLAN_NOTE, "children"),
        Input(ids.PLAN_KEEP, "n_clicks"),
        State(ids.PLAN_AMOUNT, "value"),
        State(ids.PLAN_STATE, "data"),
        State(ASKED, "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def keep(clicks: Any, amount: Any, before: Any, asked: Any, units: Any, theme: Any) -> Any:
        job, setup = _job_of(answers, asked)
        if not clicks or job is None:
            raise PreventUpdate
        way = _state_of(before, job, setup).get("way")
        try:
            state = shown(answers, job, setup=setup, amount_mm=_number(amount), way=way)
            if state.option is None:
                raise UsageError("no way is chosen")
            keep_plan(answers.book, job.id, state.plan, state.option.name, state.setup)
        except FlatfootError as error:
            return no_update, html.P(str(error), role="alert", className="ff-card ff-fault")
        return answer(lambda: show(asked, look_of(units, theme))), no_update

    @app.callback(
        Output(SHOWN, "children", allow_duplicate=True),
        Output(ids.PLAN_SAVED, "children"),
        Input(ids.PLAN_SAVE, "n_clicks"),
        State({"type": ids.PLAN_MEASURE, "place": ALL}, "value"),
        State({"type": ids.PLAN_MEASURE, "place": ALL}, "id"),
        State(ASKED, "data"),
        State(ids.UNITS, "value"),
        State(ids.THEME, "value"),
        prevent_initial_call=True,
    )
    def save(clicks: Any, values: Any, names: Any, asked: Any, units: Any, theme: Any) -> Any:
        job, _ = _job_of(answers, asked)
        if not clicks or job is None:
            raise PreventUpdate
        look = look_of(units, theme)
        typed = {
            str(name["place"]).replace(":", "."): value for name, value in zip(names, values, strict=False)
        }
        try:
            count = plan_form.write(answers.book, job, typed, look.units)
        except FlatfootError as error:
            return no_update, html.P(str(error), role="alert", className="ff-card ff-fault")
        if count == 0:
            return no_update, html.P("Nothing new was typed.", role="status")
        return answer(lambda: show(asked, look)), no_update
