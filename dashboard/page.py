"""How every page answers: its address is kept in a store, one callback fills the page from it.

Units and theme are choices of the browser, so a page is filled after the browser has told them, and again
when they change. Whatever goes wrong becomes a card that says so; no page ever shows a traceback.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from typing import Any

import dash
from dash import Dash, Input, Output, dcc, html

from dashboard import ids
from dashboard.parts import Look, fault, look_of
from ingest.errors import FlatfootError

Asked = Mapping[str, str]
Show = Callable[[Asked, Look], Any]

LOG = logging.getLogger("flatfoot.dashboard")


def add_page(
    app: Dash, name: str, *, title: str, show: Show, path: str | None = None, path_template: str | None = None
) -> None:
    """Register a page under its address and the one callback that fills it.

    ``show`` gets the parts of the address and the look, and gives the page's children.
    """

    def layout(**asked: str | None) -> Any:
        known = _texts(asked)
        waiting = html.Div(html.P("Reading the book …", className="ff-quiet"), className="ff-page")
        return html.Div(
            [
                dcc.Store(id=f"{name}-{ids.ASKED}", data=known),
                html.Div(waiting, id=f"{name}-{ids.SHOWN}"),
            ]
        )

    dash.register_page(  # type: ignore[no-untyped-call]
        f"flatfoot.{name}",
        path=path,
        path_template=path_template,
        name=name,
        title=f"{title} · flatfoot",
        description="Suspension travel, measured",
        layout=layout,
    )

    @app.callback(
        Output(f"{name}-{ids.SHOWN}", "children"),
        Input(f"{name}-{ids.ASKED}", "data"),
        Input(ids.UNITS, "value"),
        Input(ids.THEME, "value"),
    )
    def fill(asked: object, units: object, theme: object) -> Any:
        return answer(lambda: show(_texts(asked), look_of(units, theme)))


def _texts(asked: object) -> dict[str, str]:
    """Keep of what an address or a browser asked only what is text under a name."""
    if not isinstance(asked, dict):
        return {}
    return {key: value for key, value in asked.items() if isinstance(key, str) and isinstance(value, str)}


def answer(work_out: Callable[[], Any]) -> Any:
    """Give what a page shows, or the card that says why it cannot."""
    try:
        return work_out()
    except FlatfootError as error:
        return shell_of(fault(str(error), "Nothing was changed. Everything recorded is safe."))
    except Exception:
        LOG.exception("a page could not be shown")
        return shell_of(
            fault(
                "Something went wrong inside flatfoot; this is a mistake in the program, not yours.",
                "Everything recorded is safe. The window flatfoot was started in says what happened.",
            )
        )


def shell_of(card: Any) -> Any:
    """Put a lone card on a page."""
    return html.Div(card, className="ff-page")
