"""Every drawing is well-formed XML, escapes what it is given, and keeps every flag inside and apart."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote

import pytest

from analysis.results import EndSag, Quantity
from analysis.ride_results import EndRide, Events, Exceedance, RideSummary, Speeds
from dashboard import theme
from dashboard.drawings import svg
from dashboard.drawings.flags import Flag, spread
from dashboard.drawings.little import little_ruler
from dashboard.drawings.paired import Places, paired_ruler
from dashboard.drawings.ride import ride_ruler
from dashboard.drawings.sag import live_ruler, sag_card
from dashboard.drawings.speed import last_drawn, speed_panel
from dashboard.theme import DARK, LIGHT, PRINT, Palette
from dashboard.units import Units
from ingest.records import End

NS = "{http://www.w3.org/2000/svg}"
NASTY = 'a<b> & "c" \x00\x1b\ufffe d'
LOOK_CSS = Path(theme.__file__).parent / "assets" / "look.css"


def q(value: float, doubt: float) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


SAG = EndSag(
    travel_mm=230.0,
    unladen_sag_mm=q(34.0, 1.6),
    rider_sag_mm=q(47.0, 2.1),
    unladen_sag_percent=14.8,
    rider_sag_percent=20.4,
    friction_band_mm=5.0,
    target_sag_mm=(64.0, 76.0),
    word="too little",
    zero_reading=102.0,
    readings=(),
)
NONE = Events(count=0, per_10_min=0.0, events=())
SPEEDS = Speeds(p50=90.0, p95=600.0, p99=900.0, max=1500.0)
CURVE = Exceedance(speed_mm_s=(0.0, 200.0, 400.0, 800.0, 1200.0), share=(0.5, 0.1, 0.02, 0.001, 0.000001))
RIDE = EndRide(
    duration_s=312.0,
    samples=312000,
    lost_samples=0,
    travel_mm=230.0,
    travel_used_mm=209.0,
    travel_used_percent=91.0,
    mean_mm=79.0,
    p50_mm=77.0,
    p95_mm=136.0,
    p99_mm=180.0,
    bottoming=NONE,
    topping=NONE,
    compression_speed_mm_s=SPEEDS,
    rebound_speed_mm_s=SPEEDS,
    bandwidth_hz=60.0,
    grains_mm=tuple(20.0 + 1.5 * k for k in range(100)),
    compression_exceedance=CURVE,
    rebound_exceedance=CURVE,
)
PLACES = Places(travel_mm=230.0, mean_mm=55.0, p95_mm=100.0, travel_used_mm=176.0)


FULL_PLACES = replace(
    PLACES,
    doubt_mm=3.2,
    rider_sag=Quantity(value=47.0, expanded_uncertainty=2.1, coverage_factor=2.0),
    target_mm=(64.0, 76.0),
)


def drawings(end: End, units: Units, palette: Palette, title: str = "t") -> dict[str, str]:
    lowered = replace(PLACES, travel_mm=205.0)
    spaced = replace(FULL_PLACES, travel_mm=205.0, travel_used_mm=206.0, mean_mm=48.0)
    return {
        "sag": sag_card(end, SAG, units, palette, title=title),
        "ride": ride_ruler(end, RIDE, units, palette, px_per_mm=1.4, title=title),
        "paired": paired_ruler(end, PLACES, lowered, units, palette, px_per_mm=1.3, title=title),
        "all of it": paired_ruler(
            end, FULL_PLACES, spaced, units, palette, px_per_mm=1.3, title=title, full_bump_stayed=True
        ),
        "speed": speed_panel(end, RIDE, units, palette, fastest_mm_s=800.0, title=title),
        "live": live_ruler(end, 230.0, 46.8, (44.0, 49.0), units, palette, px_per_mm=1.8, title=title),
    }


def texts(drawing: str) -> list[str]:
    return [node.text or "" for node in ET.fromstring(drawing).iter(f"{NS}text")]


@pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("end", list(End))
def test_drawings_are_xml_fit_a_phone_and_keep_their_words_inside(
    end: End, units: Units, palette: Palette
) -> None:
    for name, drawing in drawings(end, units, palette).items():
        keeps_its_words_inside(name, drawing)


def keeps_its_words_inside(name: str, drawing: str) -> None:
    root = ET.fromstring(drawing)
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    assert width <= 358
    for node in root.iter(f"{NS}text"):
        size = float(node.attrib["font-size"])
        assert size >= 16, f"{name}: {node.text}"
        bold = node.attrib.get("font-weight") == "700"
        needs = svg.text_width_px(node.text or "", size, bold=bold)
        x = float(node.attrib["x"])
        left = {"start": x, "middle": x - needs / 2, "end": x - needs}[node.attrib["text-anchor"]]
        assert left >= -4, f"{name}: {node.text} starts at {left:.0f}"
        assert left + needs <= width + 4, f"{name}: {node.text} ends at {left + needs:.0f} of {width}"
        assert 0 <= float(node.attrib["y"]) <= height, f"{name}: {node.text}"


def test_text_is_escaped_and_control_characters_are_dropped() -> None:
    for drawing in drawings(End.FRONT, Units.MM, LIGHT, title=NASTY).values():
        title = ET.fromstring(drawing).find(f"{NS}title")
        assert title is not None
        assert title.text == 'a<b> & "c"  d'
        assert "<b>" not in drawing


def test_a_data_uri_gives_back_the_drawing() -> None:
    drawing = sag_card(End.REAR, SAG, Units.MM, LIGHT, title=NASTY)
    uri = svg.data_uri(drawing)
    assert uri.startswith("data:image/svg+xml,")
    assert unquote(uri.partition(",")[2]) == drawing
    assert not re.search(r'[<>"# ]', uri)


def test_the_sag_card_says_value_doubt_target_and_friction() -> None:
    said = texts(sag_card(End.FRONT, SAG, Units.MM, LIGHT, title="t"))
    for wanted in ("34.0 ± 1.6", "47.0 ± 2.1", "64–76", "±5.0", "goes on to 230", "FRONT"):
        assert wanted in said
    assert "1.85 ± 0.08" in texts(sag_card(End.FRONT, SAG, Units.IN, LIGHT, title="t"))


def test_the_band_is_drawn_to_scale() -> None:
    root = ET.fromstring(sag_card(End.FRONT, SAG, Units.MM, LIGHT, title="t"))
    bands = [float(r.attrib["height"]) for r in root.iter(f"{NS}rect") if r.attrib["fill"] == LIGHT.frontsoft]
    assert len(bands) == 2
    assert bands[1] / bands[0] == pytest.approx(2.1 / 1.6, rel=0.02)


def test_nothing_measured_says_so() -> None:
    bare = replace(SAG, unladen_sag_mm=None, rider_sag_mm=None, friction_band_mm=None, target_sag_mm=None)
    assert "no reading" in texts(sag_card(End.REAR, bare, Units.MM, LIGHT, title="t"))
    assert "no reading" in texts(live_ruler(End.REAR, 220, None, (), Units.MM, LIGHT, px_per_mm=1, title="t"))


def test_one_grain_for_each_hundredth_full_in_front_hollow_at_the_rear() -> None:
    for end, hollow in ((End.FRONT, False), (End.REAR, True)):
        root = ET.fromstring(ride_ruler(end, RIDE, Units.MM, LIGHT, px_per_mm=1.4, title="t"))
        grains = list(root.iter(f"{NS}circle"))
        assert len(grains) == 100
        assert all((grain.attrib["fill"] == "none") is hollow for grain in grains)
        assert max(float(grain.attrib["cx"]) for grain in grains) <= svg.WIDTH_PX


def test_a_hundred_grains_in_one_place_still_fit() -> None:
    stuck = replace(RIDE, grains_mm=(79.0,) * 100)
    root = ET.fromstring(ride_ruler(End.FRONT, stuck, Units.MM, LIGHT, px_per_mm=1.4, title="t"))
    assert max(float(grain.attrib["cx"]) for grain in root.iter(f"{NS}circle")) <= svg.WIDTH_PX


def test_the_ruler_of_a_ride_says_doubt_sag_and_what_is_left(rich_ride: RideSummary) -> None:
    sag = q(71.0, 2.0)
    drawing = ride_ruler(End.FRONT, rich_ride.front, Units.MM, LIGHT, px_per_mm=1.4, title="t", rider_sag=sag)
    for wanted in ("rides at 79 ± 3", "151 left", "rider sag 71", "deepest 209", "21 left"):
        assert wanted in texts(drawing)
    root = ET.fromstring(drawing)
    bands = [r for r in root.iter(f"{NS}rect") if r.attrib["fill"] == LIGHT.frontsoft]
    assert [float(band.attrib["height"]) for band in bands] == [pytest.approx(2 * 3.1 * 1.4, abs=0.1)]


def test_beyond_a_stop_that_was_found_the_ruler_is_hatched(rich_ride: RideSummary) -> None:
    found = ride_ruler(End.REAR, rich_ride.rear, Units.MM, LIGHT, px_per_mm=1.4, title="t")
    nominal = replace(rich_ride.rear, found_travel_mm=None)
    plain = ride_ruler(End.REAR, nominal, Units.MM, LIGHT, px_per_mm=1.4, title="t")
    assert "stop at 213" in texts(found)
    assert "stop at 213" not in texts(plain)
    assert found.count("<line") > plain.count("<line") + 8  # the hatching
    assert "full bump 220" in texts(found)  # the book figure stays


def test_speeds_in_the_dead_band_are_hatched_and_not_drawn(rich_ride: RideSummary) -> None:
    wide = replace(rich_ride.front, dead_band_mm_s=150.0)
    drawing = speed_panel(End.FRONT, wide, Units.MM, LIGHT, fastest_mm_s=800.0, title="t")
    assert "hatched: under 150 mm/s, noise" in texts(drawing)
    curves = list(ET.fromstring(drawing).iter(f"{NS}polyline"))
    first = min(float(point.split(",")[0]) for curve in curves for point in curve.attrib["points"].split())
    assert first > 100.0 + 150.0 / 1000.0 * 220.0 - 1  # left of the plot, its width, its full scale
    without = replace(rich_ride.front, dead_band_mm_s=0.0)
    assert "noise" not in " ".join(
        texts(speed_panel(End.FRONT, without, Units.MM, LIGHT, fastest_mm_s=800.0, title="t"))
    )


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("end", list(End))
def test_everything_a_ride_can_say_keeps_inside_its_drawing(
    rich_ride: RideSummary, end: End, units: Units
) -> None:
    result = rich_ride.end(end)
    assert result is not None
    for name, drawing in (
        ("ruler", ride_ruler(end, result, units, LIGHT, px_per_mm=1.4, title="t", rider_sag=q(76.0, 2.0))),
        ("speed", speed_panel(end, result, units, LIGHT, fastest_mm_s=800.0, title="t")),
    ):
        keeps_its_words_inside(name, drawing)


def test_the_rear_has_a_double_outline() -> None:
    def sides(end: End) -> int:
        root = ET.fromstring(sag_card(end, SAG, Units.MM, LIGHT, title="t"))
        return sum(
            line.attrib["x1"] == line.attrib["x2"]
            and float(line.attrib["y2"]) - float(line.attrib["y1"]) > 300
            for line in root.iter(f"{NS}line")
        )

    assert (sides(End.FRONT), sides(End.REAR)) == (2, 4)


def test_before_is_dashed_and_missing_travel_is_named() -> None:
    drawing = paired_ruler(
        End.FRONT, PLACES, replace(PLACES, travel_mm=205.0), Units.MM, LIGHT, px_per_mm=1.3, title="t"
    )
    assert "hatched: after ends at 205" in texts(drawing)
    assert drawing.count('stroke-dasharray="5 4"') == 3  # one flag each for mean, 5 % and deepest before
    same = paired_ruler(End.FRONT, PLACES, PLACES, Units.MM, LIGHT, px_per_mm=1.3, title="t")
    assert not any(text.startswith("hatched") for text in texts(same))


def test_full_bump_that_stayed_is_where_both_end() -> None:
    def drawn(*, stayed: bool) -> str:
        after = replace(FULL_PLACES, travel_mm=205.0, travel_used_mm=205.0)
        return paired_ruler(
            End.FRONT, FULL_PLACES, after, Units.MM, LIGHT, px_per_mm=1.0, title="t", full_bump_stayed=stayed
        )

    def marks_y(drawing: str) -> set[float]:
        """Heights of the solid marks on the right half, 28 px wide."""
        middle = svg.WIDTH_PX / 2
        lines = ET.fromstring(drawing).iter(f"{NS}line")
        return {
            float(one.attrib["y1"])
            for one in lines
            if (float(one.attrib["x1"]), float(one.attrib["x2"])) == (middle, middle + 28)
            and one.attrib["stroke"] == LIGHT.front
            and one.attrib["stroke-width"] == "3.4"
        }

    top = 66.0
    assert marks_y(drawn(stayed=False)) == {top + at for at in (47, 55, 100, 205)}
    assert marks_y(drawn(stayed=True)) == {top + 25 + at for at in (47, 55, 100, 205)}
    assert "hatched: after tops out 25 further in" in texts(drawn(stayed=True))


def test_sag_doubt_and_target_are_drawn_where_they_are_known() -> None:
    bare = paired_ruler(End.REAR, PLACES, PLACES, Units.MM, LIGHT, px_per_mm=1.3, title="t")
    full = paired_ruler(End.REAR, FULL_PLACES, FULL_PLACES, Units.MM, LIGHT, px_per_mm=1.3, title="t")
    assert "sag 47" not in texts(bare)
    assert texts(full).count("sag 47") == 2
    assert texts(full).count("55 ± 3") == 2
    assert full.count(f'fill="{LIGHT.rearsoft}"') == 4  # sag and ride position, before and after
    assert (bare.count("<polyline"), full.count("<polyline")) == (6, 9)  # leaders, and the bracket


def test_flags_never_overlap_and_stay_between_their_limits() -> None:
    heights = [26.0, 46.0, 26.0, 26.0]
    for wanted in ([10, 10, 10, 10], [0, 1, 2, 300], [290, 295, 299, 300], [20, 120, 200, 280]):
        placed = spread(wanted, heights, 0.0, 300.0)
        assert placed[0] - heights[0] / 2 >= -1e-9
        assert placed[-1] + heights[-1] / 2 <= 300.0 + 1e-9
        for (a, ha), (b, hb) in pairwise(zip(placed, heights, strict=True)):
            assert b - a >= (ha + hb) / 2 - 1e-9


def test_flags_that_are_apart_stay_where_they_point() -> None:
    assert spread([50, 150, 250], [26, 26, 26], 0, 300) == [50, 150, 250]


def test_a_flag_is_as_wide_as_its_longest_line() -> None:
    assert Flag(at_mm=0, lines=("a", "deepest 209")).width > Flag(at_mm=0, lines=("a", "b")).width


@pytest.mark.parametrize(
    ("word", "bar"),
    [("right", (11, 15)), ("too little", (2, 6)), ("too much", (20, 24)), ("cannot tell", None)],
)
def test_the_little_ruler_shows_where_the_bar_lies(word: str, bar: tuple[int, int] | None) -> None:
    root = ET.fromstring(little_ruler(word, LIGHT))
    bars = [r for r in root.iter(f"{NS}rect") if r.attrib["fill"] == LIGHT.ink]
    dashed = [p for p in root.iter(f"{NS}polygon") if "stroke-dasharray" in p.attrib]
    if bar is None:
        assert not bars
        assert len(dashed) == 1
    else:
        assert [(float(b.attrib["y"]), float(b.attrib["y"]) + float(b.attrib["height"])) for b in bars] == [
            bar
        ]
        assert not dashed


def test_speeds_seen_in_fewer_than_twenty_samples_are_not_drawn() -> None:
    assert last_drawn(RIDE) == 800.0  # a share of 0.001 is 312 samples, one in a million is none
    assert last_drawn(replace(RIDE, samples=2000)) == 400.0  # 0.02 of 2000 are 40 samples, 0.001 are 2


def test_widths_are_upper_bounds_of_dejavu_sans_bold() -> None:
    # Advance widths in thousandths of the size, measured in a browser with DejaVu Sans Bold.
    measured = {"deepest 209": 5891, "rides at 79 ± 3": 8205, "unladen": 4552, "FRONT": 3804}
    for text, width in measured.items():
        assert svg.text_width_px(text, 1000.0, bold=True) >= width


def test_the_style_sheet_has_the_same_colours() -> None:
    css = LOOK_CSS.read_text(encoding="utf-8")
    blocks = {"light": css.partition(":root {")[2], "dark": css.partition('[data-theme="dark"] {')[2]}
    blocks["print"] = css.partition("@media print")[2].partition('[data-theme="dark"] {')[2]
    for name, palette in (("light", LIGHT), ("dark", DARK), ("print", PRINT)):
        said = dict(re.findall(r"--ff-(\w+): (#[0-9A-Fa-f]{6});", blocks[name].partition("}")[0]))
        assert said == {field: getattr(palette, field) for field in Palette.__dataclass_fields__}


def luminance(colour: str) -> float:
    """Relative luminance after WCAG 2.2, definition of "relative luminance" (w3.org/TR/WCAG22)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_every_text_stands_out_from_its_ground(palette: Palette) -> None:
    p = palette
    pairs = [(p.ink, g) for g in (p.bg, p.card, p.steel, p.wash, p.stopsoft)]
    pairs += [(p.ink2, p.bg), (p.ink2, p.card), (p.action, p.card), (p.action, p.bg), (p.onaction, p.action)]
    pairs += [(p.oncaution, p.caution), (p.card, p.front), (p.card, p.rear)]
    for text, ground in pairs:  # 4.5 for text: WCAG 2.2, success criterion 1.4.3
        assert contrast(text, ground) >= 4.5, (text, ground)
    assert contrast(p.edge, p.card) >= 3.0  # 1.4.11, edges of inputs
