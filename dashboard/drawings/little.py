"""The little ruler that stands before each word: where the bar lies to the bracket."""

from __future__ import annotations

from dashboard.drawings import svg
from dashboard.theme import Palette

# Heights of the bar, px: the bracket reaches from 8 to 18, compression is down.
_BAR = {"right": (11.0, 15.0), "too little": (2.0, 6.0), "too much": (20.0, 24.0)}


def little_ruler(word: str, palette: Palette) -> str:
    """Draw the little ruler of a word; a dashed box where one cannot tell."""
    ink = palette.ink
    parts = [
        svg.line(8, 1, 8, 25, ink, 1.4),
        svg.shape([(17, 8), (22, 8), (22, 18), (17, 18)], stroke=ink, stroke_width=2, closed=False),
    ]
    if word in _BAR:
        top, low = _BAR[word]
        parts.append(svg.rect(2, top, 12, low - top, fill=ink))
    else:
        box = [(2.0, 5.0), (13.0, 5.0), (13.0, 16.0), (2.0, 16.0)]
        parts.append(svg.shape(box, fill=palette.card, stroke=ink, stroke_width=2, dash="3 2"))
    return svg.document(26, 26, "".join(parts), word, palette)
