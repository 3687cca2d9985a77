"""What the pages are made of, written as plain HTML: for a file that opens without a server.

Only elements and attributes known here are written, and every text is escaped: what people typed stays text.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash.development.base_component import Component

from dashboard.drawings.svg import escape

ELEMENTS = frozenset({
    "article", "b", "div", "figure", "footer", "h1", "h2", "header", "img", "li", "p",
    "section", "span", "table", "tbody", "td", "th", "thead", "tr", "ul",
})  # fmt: skip
EMPTY = frozenset({"img"})
ATTRIBUTES = {
    "className": "class",
    "rowSpan": "rowspan",
    "colSpan": "colspan",
    "alt": "alt",
    "src": "src",
    "scope": "scope",
    "title": "title",
    "width": "width",
    "height": "height",
}
LEFT_OUT = frozenset({"children", "tabIndex"})
"""A scrolling table of a page takes the keyboard's focus; paper does not scroll."""
DRAWING = "data:image/svg+xml,"


def html_text(part: Any) -> str:
    """Write a component, a text, a number or a list of them as HTML.

    Raises
    ------
    ValueError
        An element, an attribute or an address of an image that is not known here.

    Examples
    --------
    >>> from dash import html
    >>> html_text(html.P(["a < b", html.B("c", className="n")]))
    '<p>a &lt; b<b class="n">c</b></p>'
    """
    if part is None:
        return ""
    if isinstance(part, str | int | float):
        return escape(str(part))
    if isinstance(part, list | tuple):
        return "".join(map(html_text, part))
    if not isinstance(part, Component):
        raise ValueError(f"{type(part).__name__} cannot be written as HTML")
    return _element(part)


def _element(part: Component) -> str:
    name = str(part._type).lower()
    if name not in ELEMENTS:
        raise ValueError(f"element <{name}> is not one of a report")
    props: Mapping[str, Any] = part.to_plotly_json()["props"]  # type: ignore[no-untyped-call]
    opened = f"<{name}{''.join(_attribute(key, value) for key, value in props.items())}>"
    if name in EMPTY:
        return opened
    return f"{opened}{html_text(props.get('children'))}</{name}>"


def _attribute(key: str, value: object) -> str:
    if key in LEFT_OUT or value is None:
        return ""
    if key == "src" and not str(value).startswith(DRAWING):
        raise ValueError("an image of a report is a drawing inside it, never an address")
    if key.startswith(("data-", "aria-")):
        return f' {key}="{escape(str(value))}"'
    if key not in ATTRIBUTES:
        raise ValueError(f"attribute {key} is not one of a report")
    return f' {ATTRIBUTES[key]}="{escape(str(value))}"'
