"""The colours of the look, for what cannot use the page's CSS variables: drawings and plotly figures.

`assets/look.css` holds the same values as ``--ff-*``; a test keeps the two alike. Every pair of text and
ground was chosen by its contrast after WCAG 2: at least 4.5 for text and 3 for edges.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ingest.records import End

FONT = "system-ui, 'Segoe UI', Roboto, 'Noto Sans', 'DejaVu Sans', sans-serif"


class Theme(StrEnum):
    """Which of the two palettes a person chose."""

    LIGHT = "light"
    DARK = "dark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """One set of colours; the names say what they are for."""

    bg: str
    card: str
    steel: str
    ink: str
    ink2: str
    hair: str
    edge: str
    action: str
    onaction: str
    wash: str
    front: str
    frontsoft: str
    rear: str
    rearsoft: str
    caution: str
    oncaution: str
    stop: str
    stopsoft: str

    def hue(self, end: End) -> str:
        """Give the strong colour of one end."""
        return self.front if end is End.FRONT else self.rear

    def soft(self, end: End) -> str:
        """Give the colour of an interval of one end."""
        return self.frontsoft if end is End.FRONT else self.rearsoft


LIGHT = Palette(
    bg="#E9EEED",
    card="#FFFFFF",
    steel="#F3F6F5",
    ink="#13201F",
    ink2="#43514F",
    hair="#C5CECC",
    edge="#6F7D7A",
    action="#00555F",
    onaction="#FFFFFF",
    wash="#D8EBED",
    front="#39369B",
    frontsoft="#D9D8F4",
    rear="#8A5200",
    rearsoft="#F6E3C3",
    caution="#FFE79A",
    oncaution="#2B2100",
    stop="#98181F",
    stopsoft="#FBE5E3",
)
DARK = Palette(
    bg="#0E1515",
    card="#182221",
    steel="#222E2D",
    ink="#EAF1EF",
    ink2="#B3C1BE",
    hair="#374543",
    edge="#83928F",
    action="#63BEC8",
    onaction="#05262A",
    wash="#12363B",
    front="#B5B3FF",
    frontsoft="#34326B",
    rear="#F2B95E",
    rearsoft="#553B10",
    caution="#40340C",
    oncaution="#FFE48F",
    stop="#FF9D96",
    stopsoft="#47201F",
)
# Paper: hues and ink black, grounds white. Shape and line say what colour said.
PRINT = Palette(
    bg="#FFFFFF",
    card="#FFFFFF",
    steel="#FFFFFF",
    ink="#000000",
    ink2="#000000",
    hair="#D2D2D2",
    edge="#000000",
    action="#000000",
    onaction="#FFFFFF",
    wash="#FFFFFF",
    front="#000000",
    frontsoft="#D2D2D2",
    rear="#000000",
    rearsoft="#D2D2D2",
    caution="#FFFFFF",
    oncaution="#000000",
    stop="#000000",
    stopsoft="#FFFFFF",
)


def palette(theme: Theme) -> Palette:
    """Give the colours of a theme."""
    return DARK if theme is Theme.DARK else LIGHT
