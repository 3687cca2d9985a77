"""``flatfoot calibrate --leverage``: the leverage of a linkage, measured on the bike, into the bike file."""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import CannotAnswer, UsageError

if TYPE_CHECKING:
    from analysis.leverage_survey import LeverageSurvey
    from analysis.sensor_calibration import Calibration
    from ingest.records import Bike, End


def survey(args: argparse.Namespace) -> int:
    """Read the survey, fit it, show it, and keep its table in the bike file."""
    from analysis.leverage_survey import SurveyPoint, survey_leverage
    from analysis.sensor_calibration import ReferencePoint, Way, calibrate
    from dashboard.commands.calibrate import end_of
    from ingest.points_csv import read_points_csv

    bike, text = common.read_bike_text(args.bike)
    end = end_of(bike, args.end or _only_linkage(bike), args.bike)
    _check_end(bike, end)
    rows = read_points_csv(args.leverage, "counts", "axle_mm")
    sensor = bike.sensors[end]
    known = [ReferencePoint(counts=counts, mm=mm) for counts, mm in sensor.calibration]
    scale = calibrate(known, u_ref_mm=args.u_ref_mm, curve=sensor.curve or "straight")
    strokes = _strokes(bike, end, scale, [row.first for row in rows])
    points = [
        SurveyPoint(stroke_mm=stroke, axle_mm=row.second, way=Way(row.way) if row.way else None)
        for stroke, row in zip(strokes, rows, strict=True)
    ]
    found = survey_leverage(points, u_axle_mm=args.u_ref_mm, stroke_scale_share=_share(scale))
    keep = found.supports_wheel_rate and not args.no_write
    kept = _keep(args.bike, text, end, found) if keep else None
    if args.json:
        from dashboard.as_json import dumps, to_json

        answer = to_json(found)
        assert isinstance(answer, dict)
        print(dumps({"end": end, **answer, "bike_file": args.bike if keep else None, "kept": kept}))
    else:
        _print(args, bike, end, found, kept)
    return 0 if found.supports_wheel_rate else 1


def _only_linkage(bike: Bike) -> str | None:
    """Give the only end whose sensor follows a shock, if there is one."""
    ends = [str(end) for end, sensor in bike.sensors.items() if sensor.measures == "shock stroke"]
    return ends[0] if len(ends) == 1 else None


def _check_end(bike: Bike, end: End) -> None:
    if bike.sensors[end].measures != "shock stroke":
        raise UsageError(
            f"the {end} sensor follows the wheel, so there is no leverage to measure with it: a survey needs "
            'a sensor on the shock, measures = "shock stroke"'
        )


def _strokes(bike: Bike, end: End, scale: Calibration, counts: Sequence[float]) -> list[float]:
    """Give the stroke at each reading; a sensor aslant is put right from its topped-out length on."""
    from analysis.slant import slant

    lengths = [scale.at(reading).position_mm.value for reading in counts]
    aslant, zero = slant(bike, end), bike.sensors[end].zero_count
    if aslant is None:
        return lengths
    topped_out = 0.0 if zero is None else scale.at(zero).position_mm.value
    strokes = [topped_out + float(aslant.stroke_mm(length - topped_out)) for length in lengths]
    for reading, stroke in zip(counts, strokes, strict=True):
        if math.isnan(stroke):
            raise CannotAnswer(
                f"{reading:g} counts: a sensor with the three lengths of [sensors.{end}] line cannot get "
                "there; measure them again, or look for a slip in the survey"
            )
    return strokes


def _share(scale: Calibration) -> float:
    """Give the standard uncertainty of the stroke sensor's scale as a share of it."""
    return abs((scale.scale_se or 0.0) / scale.scale_mm_per_count)


def _keep(path: Path, text: str, end: End, found: LeverageSurvey) -> Path | None:
    from ingest.bike_edit import replace_bike_file, with_leverage

    return replace_bike_file(path, with_leverage(text, end, found.table, str(path)))


def _print(args: argparse.Namespace, bike: Bike, end: End, found: LeverageSurvey, kept: Path | None) -> None:
    from dashboard import leverage_words as words
    from dashboard.commands.calibrate import written

    units = common.units(args)
    print(words.title(found, end))
    common.print_table(words.findings_table(found, bike.suspension(end), units))
    print()
    common.print_table(words.survey_table(found, units))
    if found.leverage:
        print("\nleverage: mm of the wheel for each mm of the shock (motion ratio: its inverse)")
        common.print_table(words.leverage_table(found, units))
    common.print_section("mind", found.cautions)
    if found.supports_wheel_rate:
        print(f"\n{written(args, kept, usable=True)}")
    else:
        print(f"\n{args.bike} was left as it is: too few positions for a leverage table")
