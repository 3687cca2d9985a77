"""Bike files: the example reads, every slip gets its own clear line, and what is written reads back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.bike_file import bike_text, parse_bike, read_bike
from ingest.errors import FileProblem
from ingest.records import Bike, End, Leverage, Measures, Sensor, SensorLine, Suspension

EXAMPLE = """\
[bike]
name = "Workshop tall twin"
id = "frame 0001"
use = "adventure"            # picks the default sag targets; each can be overridden
wheelbase_mm = 1560
rake_deg = 26.0
fork_offset_mm = 45
front_wheel_radius_mm = 345
rear_wheel_radius_mm = 325

[front]
suspension = "telescopic fork"   # or "A-arm, single shock"
travel_mm = 230

[rear]
suspension = "linkage"           # or "direct", "twin shock"
travel_mm = 220
leverage = [[0, 0], [55, 21], [110, 43.5], [165, 67.3], [220, 92]]   # wheel mm, shock stroke mm

[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]     # counts, mm (two points or more)

[sensors.rear]
channel = 1
measures = "shock stroke"                # or "wheel travel"
calibration = [[88, 0], [902, 92]]
"""
REAR_LEVERAGE = "leverage = [[0, 0], [55, 21], [110, 43.5], [165, 67.3], [220, 92]]"


def complaint(text: str) -> str:
    with pytest.raises(FileProblem) as caught:
        parse_bike(text, "twin.toml")
    message = str(caught.value)
    assert "\n" not in message
    assert message.startswith("twin.toml")
    return message


def what_comes_of(text: str) -> str:
    """The bike's name, or the complaint; anything else that is raised fails the test."""
    try:
        return parse_bike(text).name
    except FileProblem as problem:
        return str(problem)


def edited(old: str, new: str) -> str:
    assert old in EXAMPLE
    return EXAMPLE.replace(old, new, 1)


def test_the_example_reads(bike: Bike) -> None:
    assert parse_bike(EXAMPLE) == bike


def test_a_file_of_a_name_alone_is_a_bike() -> None:
    bike = parse_bike('[bike]\nname = "Nameless"')
    assert bike == Bike(name="Nameless")
    assert bike.identity == "Nameless"


def test_every_optional_key() -> None:
    full = Bike(
        name='Größe "7" \\ № 雪',
        id="x",
        use="enduro",
        measured_state="rider aboard",
        mass_kg=212.5,
        seat_ahead_of_rear_axle_mm=560,
        front=Suspension(
            kind="A-arm, single shock",
            travel_mm=120,
            leverage=Leverage(ratio=1.9),
            spring_rate_n_mm=95.5,
            springs=1,
            springs_available_n_mm=(85, 90.5, 95.5),
            spring_free_length_mm=210,
            spring_solid_length_mm=96.5,
            preload_mm=9,
            preload_min_mm=2,
            preload_max_mm=22,
            thread_pitch_mm=1.5,
            axle_load_kg=108,
            unsprung_mass_kg=19,
            air_area_mm2=2900,
            air_column_mm=380,
            target_sag_percent=(25, 30),
            compression_clicks=12,
            rebound_clicks=0,
            oil_level_mm=110,
            raised_in_clamps_mm=0,
        ),
        sensors={
            End.FRONT: Sensor(
                end=End.FRONT,
                channel=3,
                measures=Measures.SHOCK_STROKE,
                calibration=((901.25, 0), (88, 60)),  # falling counts
                zero_count=899.5,
                name="linear 75 mm",
                line=SensorLine(
                    fixed_ends_apart_mm=70, stroke_line_mm=340, sensor_mm=325.5, give_or_take_mm=1
                ),
            )
        },
    )
    assert parse_bike(bike_text(full)) == full


def test_the_state_of_the_geometry_is_one_of_three_or_not_said() -> None:
    assert parse_bike(EXAMPLE).measured_state is None
    said = parse_bike(edited("rake_deg", 'measured_state = "unladen"\nrake_deg'))
    assert said.measured_state == "unladen"
    told = complaint(edited("rake_deg", 'measured_state = "laden"\nrake_deg'))
    assert "measured_state" in told
    assert '"topped out", "unladen"' in told


LINE = "line = { fixed_ends_apart_mm = 70, stroke_line_mm = 340, sensor_mm = 325 }"


def with_line(line: str) -> str:
    return edited("[[88, 0], [902, 92]]", f"[[88, 0], [902, 92]]\n{line}")


def test_the_three_lengths_of_a_sensor_read_and_read_back() -> None:
    bike = parse_bike(with_line(LINE))
    assert bike.sensors[End.REAR].line == SensorLine(
        fixed_ends_apart_mm=70, stroke_line_mm=340, sensor_mm=325
    )
    assert bike.sensors[End.FRONT].line is None
    text = bike_text(bike)
    assert f"{LINE.replace('{ ', '{').replace(' }', '}')}\n" in text
    assert parse_bike(text) == bike


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("= 70", "= 700", "lengths of [sensors.rear.line] make no triangle: fixed_ends_apart_mm 700 is"),
        ("= 70", "= 10", "stroke_line_mm 340 is 5 mm longer than the other two together; measure again"),
        ("= 70", "= 0", "sensors.rear.line.fixed_ends_apart_mm is 0, out of range: 1 to 1000 is allowed"),
        ("= 340", '= "340"', 'sensors.rear.line.stroke_line_mm is "340", which is text'),
        ("= 325", "= nan", "sensors.rear.line.sensor_mm is NaN, out of range: 20 to 1500 is allowed"),
        (", sensor_mm = 325", "", "[sensors.rear.line] needs sensor_mm, in mm, topped out"),
        ("sensor_mm", "sensor_m", "sensors.rear.line.sensor_m is not a known key; did you mean sensor_mm?"),
        (" }", ", give_or_take_mm = 0 }", "give_or_take_mm is 0, out of range: 0.05 to 20 is allowed"),
        (LINE, "line = [70, 340, 325]", "sensors.rear.line is [70, 340, 325]: it has to be a table"),
    ],
)
def test_each_slip_in_the_three_lengths_has_its_line(old: str, new: str, said: str) -> None:
    assert said in complaint(with_line(LINE.replace(old, new, 1)))


def test_lengths_in_one_line_make_a_triangle_to_the_last_digit() -> None:
    flat = "line = { fixed_ends_apart_mm = 60.1, stroke_line_mm = 340.3, sensor_mm = 280.2 }"
    assert parse_bike(with_line(flat)).sensors[End.REAR].line is not None


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("7.5", "is 7.5: it has to be a list of numbers in brackets"),
        ('[6, "7"]', 'a number in front.springs_available_n_mm is "7", which is text'),
        ("[6, 0]", "a number in front.springs_available_n_mm is 0, out of range: 0.5 to 1000 is allowed"),
    ],
)
def test_springs_on_the_shelf_are_numbers(value: str, words: str) -> None:
    said = complaint(edited("travel_mm = 230", f"travel_mm = 230\nsprings_available_n_mm = {value}"))
    assert words in said


def test_an_empty_shelf_is_no_shelf() -> None:
    bike = parse_bike(edited("travel_mm = 230", "travel_mm = 230\nsprings_available_n_mm = []"))
    assert bike.front is not None
    assert bike.front.springs_available_n_mm is None


def test_what_is_written_reads_back(bike: Bike) -> None:
    text = bike_text(bike)
    assert parse_bike(text) == bike
    assert bike_text(parse_bike(text)) == text
    assert "wheelbase_mm = 1560\n" in text  # a whole number stays one


@given(
    name=st.text(st.characters(codec="utf-8"), min_size=1, max_size=50).filter(
        lambda s: s.isprintable() and s == s.strip() and s
    ),
    rake=st.floats(0, 60),
    stroke=st.lists(st.floats(1, 20), min_size=1, max_size=8),
    ratio=st.floats(1, 4),
)
def test_any_bike_reads_back(name: str, rake: float, stroke: list[float], ratio: float) -> None:
    table = [(0.0, 0.0)]
    for step in stroke:
        table.append((table[-1][0] + step * ratio, table[-1][1] + step))
    bike = Bike(
        name=name,
        rake_deg=rake,
        rear=Suspension(kind="direct", travel_mm=150, leverage=Leverage(table=tuple(table))),
    )
    assert parse_bike(bike_text(bike)) == bike


def test_a_byte_order_mark_is_let_pass(tmp_path: Path, bike: Bike) -> None:
    path = tmp_path / "twin.toml"
    path.write_bytes(b"\xef\xbb\xbf" + EXAMPLE.encode())
    assert read_bike(path) == bike


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("wheelbase_mm", "wheelbse_mm", "bike.wheelbse_mm is not a known key; did you mean wheelbase_mm?"),
        (
            "\ntravel_mm = 230",
            "\nTravel_mm = 230",
            "front.Travel_mm is not a known key; did you mean travel_mm?",
        ),
        ("[sensors.front]", "[sensor.front]", "sensor is not a known key; did you mean sensors?"),
        ("[sensors.front]", "[sensors.left]", "sensors.left is not a known key; allowed here: front, rear"),
        ("rake_deg = 26.0", 'rake_deg = "26"', 'bike.rake_deg is "26", which is text: write a plain number'),
        ("rake_deg = 26.0", "rake_deg = true", "bike.rake_deg is true: write a plain number, 0 to 60"),
        ("rake_deg = 26.0", "rake_deg = 1979-05-27", "bike.rake_deg is 1979-05-27 (a date or time)"),
        ("rake_deg = 26.0", "rake_deg = nan", "bike.rake_deg is NaN, out of range: 0 to 60 is allowed"),
        ("= 1560", "= 156", "bike.wheelbase_mm is 156, out of range: 500 to 3000 is allowed"),
        ("= 1560", "= " + "9" * 400, "bike.wheelbase_mm is a number of more than 18 digits, out of range"),
        ('name = "Workshop tall twin"', "", "[bike] needs name, a text in quotes"),
        ('name = "Workshop tall twin"', 'name = "  "', "[bike] needs name, a text in quotes"),
        ('name = "Workshop tall twin"', "name = 7", "bike.name is 7: it has to be text in quotes"),
        ("Workshop tall twin", "Workshop\\ntwin", "bike.name has to be one line of at most 200 characters"),
        (
            '"adventure"',
            '"racing"',
            'bike.use is "racing"; allowed: "road", "touring", "adventure", "enduro", "motocross"',
        ),
        (
            '"telescopic fork"',
            '"fork"',
            'front.suspension is "fork"; allowed: "telescopic fork", "A-arm, single shock"',
        ),
        ("travel_mm = 230", "", "[front] needs travel_mm, a number of mm"),
        (
            "travel_mm = 230",
            "travel_mm = 230\nratio = 1",
            "[front] is a telescopic fork, which has no leverage",
        ),
        (REAR_LEVERAGE, "", '[sensors.rear] measures "shock stroke", so [rear] needs leverage ='),
        (REAR_LEVERAGE, REAR_LEVERAGE + "\nratio = 2.4", "[rear] has both leverage and ratio"),
        (REAR_LEVERAGE, "ratio = 24", "rear.ratio is 24, out of range: 0.4 to 10 is allowed"),
        ("[55, 21]", "[55, 2.1]", "row 2 of rear.leverage, [55, 2.1], makes a leverage of 26.2"),
        ("[110, 43.5]", "[110, 20]", "row 3 of rear.leverage, [110, 20], has to be larger in both columns"),
        ("[110, 43.5]", "[110]", "point 3 of rear.leverage is [110]: it has to be two numbers"),
        ("[110, 43.5]", '[110, "x"]', 'a number in point 3 of rear.leverage is "x", which is text'),
        (REAR_LEVERAGE, "leverage = 2.4", "rear.leverage is 2.4: it has to be a list of points"),
        (REAR_LEVERAGE, "leverage = [[0, 0]]", "rear.leverage needs two rows or more"),
        (
            "[[102, 0], [921, 230]]",
            "[[102, 0]]",
            "a calibration needs two points or more; one was given at [sensors.front]",
        ),
        (
            "[[102, 0], [921, 230]]",
            "[]",
            "a calibration needs two points or more; none was given at [sensors.front]",
        ),
        ("[[102, 0], [921, 230]]", "[[102, 0], [102, 230]]", "[sensors.front] have the same counts (102)"),
        ("[[102, 0], [921, 230]]", "[[102, 0], [921, 0]]", "[sensors.front] have the same mm (0)"),
        ("channel = 1", "channel = 0", "both sensors are on channel 0: each needs a channel of its own"),
        ("channel = 1", "channel = 1.5", "sensors.rear.channel is 1.5: it has to be a whole number"),
        ("channel = 1", "", "[sensors.rear] needs channel"),
        ("[front]", "[front.fork]", "front.fork is not a known key"),
        (
            "travel_mm = 220",
            "travel_mm = 220\ntarget_sag_percent = [33, 28]",
            "the smaller number comes first",
        ),
        (
            "travel_mm = 220",
            "travel_mm = 220\nrebound_clicks = -3",
            "rear.rebound_clicks is -3, out of range",
        ),
        ("= 1560", "= 1560,0", 'twin.toml, line 5: "wheelbase_mm = 1560,0" is not valid TOML'),
        ('"frame 0001"', '"frame 0001', "twin.toml, line 3:"),
        ("rake_deg = 26.0", "rake_deg = 26.0\nrake_deg = 27", "line 7:"),
    ],
)
def test_each_slip_has_its_line(old: str, new: str, said: str) -> None:
    assert said in complaint(edited(old, new))


def test_a_sensor_needs_its_end() -> None:
    text = EXAMPLE.replace('[front]\nsuspension = "telescopic fork"   # or "A-arm, single shock"\n', "")
    text = text.replace("travel_mm = 230\n", "")
    assert "[sensors.front] is there, but [front] is not" in complaint(text)


def test_stroke_of_a_fork_is_wheel_travel() -> None:
    text = edited("channel = 0", 'channel = 0\nmeasures = "shock stroke"')
    assert 'write measures = "wheel travel"' in complaint(text)


@pytest.mark.parametrize("text", ["", "# nothing", "front = 3", "bike = 3", "[[bike]]"])
def test_a_file_without_a_bike(text: str) -> None:
    assert "bike" in complaint(text).removeprefix("twin.toml")


@pytest.mark.parametrize(
    "text", ["[" * 100_000, "x" * 2_000_000, "\x00", "a = 1\r\rb", "x = " + "1" * 10_000]
)
def test_rubbish_gets_one_line(text: str) -> None:
    complaint(text)


@given(st.text(max_size=200))
def test_any_text_is_a_bike_or_a_complaint(text: str) -> None:
    assert "\n" not in what_comes_of(text)


@given(st.integers(0, len(EXAMPLE) - 1), st.characters(codec="utf-8"))
def test_any_wrong_character_is_a_bike_or_a_complaint(at: int, character: str) -> None:
    assert "\n" not in what_comes_of(EXAMPLE[:at] + character + EXAMPLE[at + 1 :])


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "there is no bike file"),
        (b"\xff\xfe[\0b\0", "is not UTF-8 text"),
        (b" " * 2_000_000, "too large"),
    ],
)
def test_files_that_cannot_be_read(tmp_path: Path, content: bytes | None, said: str) -> None:
    path = tmp_path / "twin.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FileProblem, match=said):
        read_bike(path)
    with pytest.raises(FileProblem, match="cannot read the bike file"):
        read_bike(tmp_path)


def test_a_table_may_end_short_of_the_travel(bike: Bike) -> None:
    assert bike.rear is not None
    short = replace(bike, rear=replace(bike.rear, leverage=Leverage(table=((5.0, 2.0), (190.0, 80.0)))))
    assert parse_bike(bike_text(short)) == short
