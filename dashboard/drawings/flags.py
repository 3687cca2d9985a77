"""Flags: the name and the number of a mark, outside the ruler, on a leader bent where flags would meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from dashboard.drawings import svg
from dashboard.drawings.ruler import Ruler

LINE_PX = 20.0
TIP_PX = 11.0
LEADER_PX = 22.0
GAP_PX = 4.0


class Style(StrEnum):
    """How a flag is drawn: the one to look at, a second one, one from before the work, the target's words."""

    FULL = "full"
    HOLLOW = "hollow"
    DASHED = "dashed"
    BARE = "bare"


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """What a mark says, in one line or two."""

    at_mm: float
    lines: tuple[str, ...]
    style: Style = Style.FULL

    @property
    def height(self) -> float:
        """Height, px."""
        return len(self.lines) * LINE_PX + 6

    @property
    def width(self) -> float:
        """Width with its tip, measured in the widest font, px."""
        return max(svg.text_width_px(text, bold=True) for text in self.lines) + 14 + TIP_PX


def spread(
    wanted: Sequence[float], heights: Sequence[float], low: float, high: float, gap: float = GAP_PX
) -> list[float]:
    """Move middles apart so that nothing overlaps, as little as possible, keeping their order.

    Neighbours that would touch are pooled and stand around the mean of where they want to be; at the
    ends the row is pushed back inside ``low`` … ``high``. Input is sorted; all in px.

    >>> spread([10, 12], [20, 20], 0, 100)
    [10.0, 34.0]
    """
    pools: list[tuple[float, list[int]]] = []  # (first middle, members)
    for index, want in enumerate(wanted):
        pools.append((max(want, low + heights[index] / 2), [index]))
        while len(pools) > 1:
            (above, first), (below, second) = pools[-2], pools[-1]
            last = above + sum(_steps(heights, first, gap))
            need = (heights[first[-1]] + heights[second[0]]) / 2 + gap
            if below - last >= need:
                break
            members = first + second
            offsets = _offsets(heights, members, gap)
            start = sum(wanted[i] - off for i, off in zip(members, offsets, strict=True)) / len(members)
            start = max(start, low + heights[members[0]] / 2)
            pools[-2:] = [(start, members)]
    placed = [0.0] * len(wanted)
    for start, members in pools:
        for i, off in zip(members, _offsets(heights, members, gap), strict=True):
            placed[i] = start + off
    limit = high
    for i in reversed(range(len(placed))):
        placed[i] = min(placed[i], limit - heights[i] / 2)
        limit = placed[i] - heights[i] / 2 - gap
    return placed


def _steps(heights: Sequence[float], members: list[int], gap: float) -> list[float]:
    return [(heights[a] + heights[b]) / 2 + gap for a, b in pairwise(members)]


def _offsets(heights: Sequence[float], members: list[int], gap: float) -> list[float]:
    offsets = [0.0]
    for step in _steps(heights, members, gap):
        offsets.append(offsets[-1] + step)
    return offsets


def draw(ruler: Ruler, flags: Sequence[Flag], *, right: bool, low: float, high: float) -> str:
    """Draw the flags of one side between the heights ``low`` and ``high``, px."""
    ordered = sorted(flags, key=lambda flag: flag.at_mm)
    wanted = [min(max(ruler.y(flag.at_mm), ruler.top), ruler.bottom) for flag in ordered]
    heights = [flag.height for flag in ordered]
    places = spread(wanted, heights, low, high)
    return "".join(
        _flag(ruler, flag, at, place, right=right)
        for flag, at, place in zip(ordered, wanted, places, strict=True)
    )


def _flag(ruler: Ruler, flag: Flag, at: float, place: float, *, right: bool) -> str:
    colours = ruler.palette
    way = 1 if right else -1
    edge = ruler.right if right else ruler.left
    tip = edge + way * LEADER_PX
    near, far = tip + way * TIP_PX, tip + way * flag.width
    top, low = place - flag.height / 2, place + flag.height / 2
    full, bare = flag.style is Style.FULL, flag.style is Style.BARE
    start = edge + way * (19 if bare else 0)  # the target's leader begins at its bracket
    leader = svg.shape(
        [(start, at), (max(start, edge + 8) if right else edge - 8, at), (tip, place)],
        stroke=colours.ink if bare else ruler.hue,
        closed=False,
        stroke_width=1.5,
    )
    body = svg.shape(
        [(tip, place), (near, top), (far, top), (far, low), (near, low)],
        fill=ruler.hue if full else colours.card,
        stroke=ruler.hue,
        stroke_width=2,
        dash="5 4" if flag.style is Style.DASHED else "",
    )
    ink = colours.card if full else colours.ink
    first = place - (len(flag.lines) - 1) * LINE_PX / 2
    words = [
        svg.label(
            near + way * 5,
            first + i * LINE_PX,
            text,
            ink,
            bold=True,
            anchor="start" if right else "end",
        )
        for i, text in enumerate(flag.lines)
    ]
    return leader + ("" if bare else body) + "".join(words)
