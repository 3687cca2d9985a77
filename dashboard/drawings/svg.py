"""The few SVG elements the drawings are made of. Text is escaped here and nowhere else."""

from __future__ import annotations

import html
import re
from urllib.parse import quote

from dashboard.theme import FONT, Palette

WIDTH_PX = 340.0  # one end fills a phone of 390 px between the edges of its card
TEXT_PX = 16.0  # readable on a phone held by a dirty glove; never scaled down

# Advance widths of DejaVu Sans in thousandths of the font size, measured in a browser: it is the widest
# of the fonts the pages may get, so what fits here fits everywhere.
_REGULAR = {
    **dict.fromkeys("0123456789$", 636),
    **dict.fromkeys("bdghknpquz", 635),
    **dict.fromkeys("aeo", 615),
    **dict.fromkeys("cksvxy", 592),
    **dict.fromkeys("fr", 440),
    **dict.fromkeys("ijlI .,'’:;|!·", 337),
    **dict.fromkeys("t()[]/-–_", 500),
    **dict.fromkeys("m%", 974),
}
_WIDE = dict.fromkeys("WM@…½", 1000)
_REGULAR |= _WIDE
_BOLD = {
    **dict.fromkeys("ijl", 343),
    **dict.fromkeys("I.,'’:;·/|J", 400),
    **dict.fromkeys("()[]-", 457),
    **dict.fromkeys("ft–_°", 500),
    **dict.fromkeys("r", 493),
    **dict.fromkeys("cszvyxL", 652),
    **dict.fromkeys("aekoEFT0123456789$", 696),
    **dict.fromkeys("bdghnpquSYZPC", 734),
    **dict.fromkeys(" ", 348),
    **dict.fromkeys("m%", 1042),
    **dict.fromkeys("WM@…½", 1103),
}
_OTHER = 872  # capitals, ± and the minus sign are narrower or just this wide

# XML 1.0 allows no control characters but tab and the line ends, not even escaped.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def escape(text: str) -> str:
    """Make any text safe inside an XML element or attribute.

    >>> escape('a<b> "c" \\x00&')
    'a&lt;b&gt; &quot;c&quot; &amp;'
    """
    return html.escape(_NOT_XML.sub("", text), quote=True)


def text_width_px(text: str, size_px: float = TEXT_PX, *, bold: bool = False) -> float:
    """Give an upper bound for the width of a text in the widest font, px.

    >>> text_width_px("0") < text_width_px("00")
    True
    """
    widths = _BOLD if bold else _REGULAR
    return sum(widths.get(char, _OTHER) for char in text) / 1000.0 * size_px


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def line(
    x1: float, y1: float, x2: float, y2: float, colour: str, width: float = 1.5, *, dash: str = ""
) -> str:
    """Draw a straight line."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" '
        f'stroke="{colour}" stroke-width="{_n(width)}"{dashed}/>'
    )


def rect(
    x: float,
    y: float,
    width: float,
    height: float,
    *,
    fill: str = "none",
    stroke: str = "none",
    stroke_width: float = 1.5,
    radius: float = 0.0,
) -> str:
    """Draw a rectangle."""
    return (
        f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" rx="{_n(radius)}" '
        f'fill="{fill}" stroke="{stroke}" stroke-width="{_n(stroke_width)}"/>'
    )


def shape(
    points: list[tuple[float, float]],
    *,
    fill: str = "none",
    stroke: str = "none",
    stroke_width: float = 1.5,
    dash: str = "",
    closed: bool = True,
) -> str:
    """Draw a polygon, or an open run of lines."""
    place = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    name = "polygon" if closed else "polyline"
    return (
        f'<{name} points="{place}" fill="{fill}" stroke="{stroke}" stroke-width="{_n(stroke_width)}"'
        f' stroke-linejoin="miter"{dashed}/>'
    )


def circle(
    x: float,
    y: float,
    radius: float,
    *,
    fill: str = "none",
    stroke: str = "none",
    stroke_width: float = 1.0,
    dash: str = "",
) -> str:
    """Draw a circle."""
    width = "" if stroke_width == 1.0 else f' stroke-width="{_n(stroke_width)}"'
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" fill="{fill}" stroke="{stroke}"{width}{dashed}/>'
    )


def label(
    x: float,
    y: float,
    text: str,
    colour: str,
    *,
    size_px: float = TEXT_PX,
    bold: bool = False,
    anchor: str = "start",
) -> str:
    """Write one line of text whose middle height is at ``y``."""
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y + 0.36 * size_px)}" font-size="{_n(size_px)}" text-anchor="{anchor}" '
        f'fill="{colour}"{weight}>{escape(text)}</text>'
    )


def hatch(x: float, y: float, width: float, height: float, colour: str, step: float = 9.0) -> str:
    """Hatch a strip or an area with slanted lines, each cut to the rectangle."""
    parts = []
    start = x - height
    while start < x + width:
        low, high = max(start, x), min(start + height, x + width)
        if high > low:
            parts.append(
                line(low, y + height - (low - start), high, y + height - (high - start), colour, 1.0)
            )
        start += step
    return "".join(parts)


def document(width: float, height: float, body: str, title: str, palette: Palette) -> str:
    """Close the drawing: a ground of the card's colour, the title for those who cannot see it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}" height="{_n(height)}" '
        f'viewBox="0 0 {_n(width)} {_n(height)}" role="img" font-family="{FONT}">'
        f"<title>{escape(title)}</title>{rect(0, 0, width, height, fill=palette.card)}{body}</svg>"
    )


def data_uri(svg: str) -> str:
    """Turn a drawing into the address of an image."""
    return "data:image/svg+xml," + quote(svg, safe="/:=;,'()!*~ ").replace(" ", "%20")
