"""The side view: to scale, inside its edges, readable on a phone, and true to the bike it is given."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from analysis.rigid_bike import PlaneBike, stand
from analysis.side_geometry import SideView, side_geometry
from dashboard.drawings import svg
from dashboard.drawings.side_view import side_view
from dashboard.theme import DARK, LIGHT, PRINT, Palette
from dashboard.units import Units

NS = "{http://www.w3.org/2000/svg}"
BIKE = PlaneBike(
    rake_deg=26.0,
    fork_offset_mm=45.0,
    wheelbase_mm=1560.0,
    front_wheel_radius_mm=345.0,
    rear_wheel_radius_mm=325.0,
    swingarm_pivot_mm=(600.0, 430.0),
)
SEAT, BELLY = (520.0, 925.0), (760.0, 270.0)
BEFORE = side_geometry(BIKE, stand(BIKE, 47.0, 40.0), seat_mm=SEAT, belly_mm=BELLY)
AFTER = side_geometry(
    BIKE,
    stand(BIKE, 70.0, 64.0, fork_raised_mm=18.0, rear_axle_up_mm=24.0),
    seat_mm=SEAT,
    belly_mm=BELLY,
    tubes_up_mm=18.0,
)


def drawn(
    before: SideView = BEFORE,
    after: SideView | None = AFTER,
    units: Units = Units.MM,
    palette: Palette = LIGHT,
    *,
    px_wide: float = 770.0,
    boards_mm: float | None = 45.0,
    title: str = "t",
) -> ET.Element:
    return ET.fromstring(
        side_view(before, after, units, palette, title=title, px_wide=px_wide, boards_mm=boards_mm)
    )


def texts(root: ET.Element) -> list[str]:
    return [node.text or "" for node in root.iter(f"{NS}text")]


def box(node: ET.Element) -> tuple[float, float, float, float]:
    """Left, right, top and bottom of a line of text, by the widest font."""
    size = float(node.attrib["font-size"])
    needs = svg.text_width_px(node.text or "", size, bold=node.attrib.get("font-weight") == "700")
    x, y = float(node.attrib["x"]), float(node.attrib["y"])
    left = {"start": x, "middle": x - needs / 2, "end": x - needs}[node.attrib["text-anchor"]]
    return left, left + needs, y - 0.8 * size, y + 0.2 * size


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("px_wide", [340.0, 560.0, 770.0, 1100.0])
@pytest.mark.parametrize("after", [AFTER, None], ids=["both", "once"])
def test_words_stay_inside_and_apart(units: Units, px_wide: float, after: SideView | None) -> None:
    root = drawn(after=after, units=units, px_wide=px_wide)
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    assert width == px_wide
    boxes = [box(node) for node in root.iter(f"{NS}text")]
    assert all(float(node.attrib["font-size"]) >= 16 for node in root.iter(f"{NS}text"))
    for left, right, top, bottom in boxes:
        assert left >= -4
        assert right <= width + 4
        assert top >= 0
        assert bottom <= height
    for k, one in enumerate(boxes):
        for other in boxes[k + 1 :]:
            beside = one[1] <= other[0] + 1 or other[1] <= one[0] + 1
            above = one[3] <= other[2] + 1 or other[3] <= one[2] + 1
            assert beside or above, f"{one} and {other} overlap"


@pytest.mark.parametrize("seat_x", [250.0, 400.0, 700.0])
def test_a_seat_far_back_sends_the_words_below(seat_x: float) -> None:
    places = [replace(one, seat_mm=(seat_x, one.seat_mm[1])) for one in (BEFORE, AFTER)]
    for left, right, _, _ in map(box, drawn(*places).iter(f"{NS}text")):
        assert -4 <= left < right <= 774


def test_it_says_what_was_and_is() -> None:
    said = texts(drawn())
    for wanted in (
        "seat 44 lower",
        "seat 884 → 840",
        "229 → 186",
        "rake 25.9° → 26.3°",
        "trail 118 → 121",
        "wheelbase 1545 → 1530",
        "boards 45",
        "before",
        "after",
    ):
        assert wanted in said, said
    rows = texts(drawn(px_wide=340.0))
    assert "seat 884 → 840 mm" in rows
    assert "belly 229 → 186 mm" in rows
    once = texts(drawn(after=None, units=Units.IN, boards_mm=None))
    assert "seat 34.8" in once
    assert "before" not in once


def test_everything_is_to_one_scale() -> None:
    root = drawn()
    radii = sorted({float(node.attrib["r"]) for node in root.iter(f"{NS}circle")}, reverse=True)
    scale = radii[0] / 345.0
    assert 325.0 * scale == pytest.approx(radii[1], abs=0.06)
    centres = [
        (float(node.attrib["cx"]), float(node.attrib["cy"]))
        for node in root.iter(f"{NS}circle")
        if float(node.attrib["r"]) == radii[0]
    ]
    across = abs(centres[0][0] - centres[1][0])  # the front wheel after and before
    assert across == pytest.approx((BEFORE.wheelbase_mm - AFTER.wheelbase_mm) * scale, abs=0.15)
    level = [
        float(node.attrib["y1"])
        for node in root.iter(f"{NS}line")
        if node.attrib["y1"] == node.attrib["y2"]
        and abs(float(node.attrib["x2"]) - float(node.attrib["x1"]) - 380 * scale) < 0.2
    ]
    assert len(level) == 4  # seat and belly, before and after
    seat_drop = BEFORE.seat_mm[1] - AFTER.seat_mm[1]
    assert abs(sorted(level)[0] - sorted(level)[1]) == pytest.approx(seat_drop * scale, abs=0.15)


@pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_each_palette_uses_its_own_colours(palette: Palette) -> None:
    used = {
        node.attrib[name]
        for node in drawn(palette=palette).iter()
        for name in ("fill", "stroke")
        if name in node.attrib
    }
    known = {palette.ink, palette.ink2, palette.card, palette.hair, palette.steel, "none"}
    assert used <= known


def test_before_is_dashed_and_after_solid() -> None:
    both, once = drawn(), drawn(after=None)
    assert any("stroke-dasharray" in node.attrib for node in both.iter(f"{NS}circle"))
    assert not any("stroke-dasharray" in node.attrib for node in once.iter())


def test_what_was_not_measured_is_left_out() -> None:
    bare = [replace(one, seat_mm=None, belly_mm=None, pivot_mm=None) for one in (BEFORE, AFTER)]
    said = " ".join(texts(drawn(*bare, boards_mm=None)))
    assert "seat" not in said
    assert "boards" not in said
    assert "rake" in said


def test_the_title_is_escaped() -> None:
    title = drawn(title='a<b> & "c" \x00').find(f"{NS}title")
    assert title is not None
    assert title.text == 'a<b> & "c" '


def test_the_axis_has_the_rake_and_the_fork_runs_beside_it() -> None:
    """Places of the geometry itself: the axis meets the ground the trail ahead of the contact."""
    for view in (BEFORE, AFTER):
        (x1, y1), (x2, y2) = view.axis_top_mm, view.axis_foot_mm
        assert math.degrees(math.atan2(x2 - x1, y1 - y2)) == pytest.approx(view.rake_deg)
        (x3, y3), (x4, y4) = view.tube_top_mm, view.front_axle_mm
        assert math.degrees(math.atan2(x4 - x3, y3 - y4)) == pytest.approx(view.rake_deg)
        assert view.axis_foot_mm[0] - view.wheelbase_mm == pytest.approx(view.trail_mm)
