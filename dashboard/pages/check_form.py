"""Before the guided sag check begins: what is aboard, how it is to go, what no sensor sees, which port."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboard import ids
from dashboard.guide import CHECKLIST
from dashboard.parts import button_link, card, page_head
from ingest.port import PortInfo
from ingest.records import Job

SAFE = "Support the bike so that it cannot fall. Nobody watches a screen while riding."
NO_SETUP = "This job has no setup yet, and a recording belongs to one: flatfoot job setup --help says how."
ROUNDS = (
    (1, "once: five minutes"),
    (2, "twice: shows whether the readings agree"),
    (3, "three times: the smallest doubt"),
)


def form(job: Job, ports: Sequence[PortInfo]) -> Any:
    """Build the form of one job."""
    options = port_options(ports)
    none_found = [] if options else [html.P("No board found. Plug it in, then look for ports again.")]
    ready = bool(job.setups)
    left = [
        card(
            "What is measured",
            _field("Setup", _choices(ids.CHECK_SETUP, [(one.name, one.name) for one in job.setups])),
            *([] if ready else [html.P(NO_SETUP)]),
            _field(
                "What is aboard (load case)",
                dcc.Input(id=ids.CHECK_LOAD, type="text", value=load_case(job), maxLength=200),
            ),
            _field(
                "Topped out",
                _choices(
                    ids.CHECK_APART,
                    [("no", "both wheels off the ground at once"), ("yes", "one after the other")],
                    first=True,
                ),
            ),
            _field(
                "How often each load is read",
                _choices(ids.CHECK_ROUNDS, [(str(number), text) for number, text in ROUNDS], first=True),
            ),
        )
    ]
    right = [
        card(
            "What the sensors cannot see",
            dcc.Checklist(id=ids.CHECK_LIST, options=list(CHECKLIST), value=[], className="ff-choices"),
            html.P("What you leave open is written into the log.", className="ff-quiet"),
        ),
        card(
            "Port",
            dcc.RadioItems(
                id=ids.CHECK_PORT,
                options=options,
                value=options[0]["value"] if len(options) == 1 else None,
                className="ff-choices",
            ),
            *none_found,
            html.Div(id=ids.CHECK_NOTE),
            html.Div([_start(ready), _look()], className="ff-buttons"),
            html.P(SAFE, className="ff-quiet"),
        ),
    ]
    columns = html.Div([html.Div(left), html.Div(right)], className="ff-columns ff-halves")
    return html.Div([page_head("Sag check", "five readings, hands free"), columns], className="ff-page")


def load_case(job: Job) -> str:
    """Suggest what is aboard: who the job is for."""
    weighs = "in gear" if job.rider.mass_kg is None else f"{job.rider.mass_kg:g} kg in gear"
    return f"rider {weighs}, no luggage"


def port_options(ports: Sequence[PortInfo]) -> list[dict[str, str]]:
    """List the ports to choose from."""
    return [{"value": port.url, "label": port.label} for port in ports]


def busy(job_id: str, *, guided: bool) -> Any:
    """Say that something else is being recorded."""
    return card(
        "Something is being recorded already",
        html.P(f"Job {job_id} has the recorder now. Stop that first."),
        button_link("Show it", f"/check/{job_id}" if guided else "/record", main=True),
    )


def _start(ready: bool) -> Any:
    text = "Start the sag check" if ready else "First: a setup"
    return html.Button(
        text, id=ids.CHECK_START, type="button", disabled=not ready, className="ff-button ff-main"
    )


def _look() -> Any:
    return html.Button("Look for ports again", id=ids.CHECK_LOOK, type="button", className="ff-button")


def _choices(name: str, pairs: Sequence[tuple[str, str]], *, first: bool = False) -> Any:
    options = [{"value": value, "label": label} for value, label in pairs]
    value = None if not pairs else pairs[0 if first else -1][0]
    return dcc.RadioItems(id=name, options=options, value=value, className="ff-choices")


def _field(name: str, inside: Any) -> Any:
    return html.Div([html.Span(name, className="ff-label"), inside], className="ff-field", role="group")
