"""Results in words: every table and sentence once, shared by the terminal, the pages and the report.

Nothing is worked out here. Numbers are rounded and units chosen (`dashboard.units`), nothing more.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.compare_results import Answer, Comparison, Metric
from analysis.results import EndSag, SagCheck
from analysis.ride_results import EndRide, Events, RideSummary, TravelEvent
from dashboard import units as show
from dashboard.units import NOTHING, Units
from ingest.log import Log
from ingest.records import End, Job

NO_CLEAR_CHANGE = "no clear change"
CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of text under a heading each; the first column names the row."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


# ------------------------------------------------------------------------------------------------ sag


def sag_table(check: SagCheck, units: Units = Units.MM) -> Table:
    """Front and rear side by side, one row for each thing a mechanic asks."""
    ends = (check.front, check.rear)

    rates = [wheel_rate(e, units) for e in ends]

    def row(name: str, *cells: str) -> tuple[str, ...]:
        return (name, *cells)

    return Table(
        head=("", "front", "rear"),
        rows=(
            row("travel", *(show.length(e.travel_mm, units, 0) if e else NOTHING for e in ends)),
            row("unladen sag", *(_sag(e, rider=False, units=units) for e in ends)),
            row("rider sag", *(_sag(e, rider=True, units=units) for e in ends)),
            *_beside(ends, units),
            row("target for rider sag", *(_target(e, units) for e in ends)),
            row("friction", *(friction(e, units) for e in ends)),
            *([row("wheel rate, secant", *rates)] if any(rate != NOTHING for rate in rates) else []),
            row("in a word", *(e.word if e else "not measured" for e in ends)),
        ),
    )


def _sag(end: EndSag | None, *, rider: bool, units: Units) -> str:
    if end is None:
        return NOTHING
    sag = end.rider_sag_mm if rider else end.unladen_sag_mm
    share = end.rider_sag_percent if rider else end.unladen_sag_percent
    if sag is None:
        return NOTHING
    text = f"{show.quantity(sag, units)} {units}"
    return text if share is None else f"{text} ({show.percent(share)})"


def _beside(ends: tuple[EndSag | None, ...], units: Units) -> list[tuple[str, ...]]:
    """Rows for feet-down and rolling sag, where somebody marked them."""
    found = {
        "feet-down sag": [e.feet_down_sag_mm if e else None for e in ends],
        "rolling sag": [e.rolling_sag_mm if e else None for e in ends],
    }
    return [
        (name, *(NOTHING if sag is None else f"{show.quantity(sag, units)} {units}" for sag in sags))
        for name, sags in found.items()
        if any(sag is not None for sag in sags)
    ]


def _target(end: EndSag | None, units: Units) -> str:
    if end is None or end.target_sag_mm is None:
        return NOTHING
    low, high = (show.length_number(value, units, 0) for value in end.target_sag_mm)
    return f"{low} to {high} {units}"


def friction(end: EndSag | None, units: Units = Units.MM) -> str:
    """Write the friction band: ± half of the difference between settled from above and from below."""
    if end is None or end.friction_band_mm is None:
        return NOTHING
    return f"±{show.length(end.friction_band_mm, units)}"


def wheel_rate(end: EndSag | None, units: Units = Units.MM) -> str:
    """Write the wheel rate measured between both sags; a dash where it cannot be told."""
    measured = None if end is None else end.wheel_rate
    if measured is None or measured.secant_n_mm is None or measured.word == CANNOT_TELL:
        return NOTHING
    value, doubt = measured.secant_n_mm.value, measured.secant_n_mm.expanded_uncertainty
    unit = show.spring_rate(value, units).split(" ", 1)[1]
    return f"{show.spring_rate(value, units).removesuffix(f' {unit}')} ± {show.spring_rate(doubt, units)}"


def sag_cautions(check: SagCheck) -> tuple[str, ...]:
    """All cautions of a sag check, each naming its end, none twice."""
    return _cautions(check.front, check.rear, check.cautions)


# ----------------------------------------------------------------------------------------------- ride


def ride_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Front and rear side by side, one row for each number of a ride."""
    ends = (ride.front, ride.rear)
    rows = tuple(
        (name, *(_ride_cell(name, end, units) if end else NOTHING for end in ends)) for name in RIDE_ROWS
    )
    return Table(head=("", "front", "rear"), rows=rows)


RIDE_ROWS = (
    "travel",
    "deepest",
    "mean ride position",
    "half the time past",
    "5 % of the time past",
    "1 % of the time past",
    "bottoming",
    "topping",
    "compression speed, 95 %",
    "rebound speed, 95 %",
    "fastest in compression",
    "fastest in rebound",
)


def _ride_cell(name: str, end: EndRide, units: Units) -> str:
    down, up = end.compression_speed_mm_s, end.rebound_speed_mm_s
    cells = {
        "travel": show.length(end.travel_mm, units, 0),
        "deepest": f"{show.length(end.travel_used_mm, units)} ({show.percent(end.travel_used_percent)})",
        "mean ride position": _share_of_travel(end.mean_mm, end, units),
        "half the time past": _share_of_travel(end.p50_mm, end, units),
        "5 % of the time past": _share_of_travel(end.p95_mm, end, units),
        "1 % of the time past": _share_of_travel(end.p99_mm, end, units),
        "bottoming": event_count(end.bottoming),
        "topping": event_count(end.topping),
        "compression speed, 95 %": show.speed(down.p95 if down else None, units),
        "rebound speed, 95 %": show.speed(up.p95 if up else None, units),
        "fastest in compression": show.speed(down.max if down else None, units),
        "fastest in rebound": show.speed(up.max if up else None, units),
    }
    return cells[name]


def _share_of_travel(value_mm: float, end: EndRide, units: Units) -> str:
    return f"{show.length(value_mm, units)} ({show.percent(100 * value_mm / end.travel_mm)})"


def event_count(events: Events) -> str:
    """Write how often something happened, and how often that is in ten minutes."""
    if events.count == 0:
        return "never"
    times = "once" if events.count == 1 else f"{events.count} times"
    return f"{times} ({show.number(events.per_10_min)} in 10 min)"


def event_row(event: TravelEvent, units: Units = Units.MM) -> tuple[str, str, str, str]:
    """Write one event: when, how far, how fast it came there, and its grade."""
    return (
        f"{show.number(event.t_s, 2)} s",
        show.length(event.peak_mm, units),
        show.speed(event.entry_speed_mm_s, units),
        event.grade,
    )


def event_table(ride: RideSummary, units: Units = Units.MM) -> Table:
    """Write every bottoming and topping of both ends, in the order they happened."""
    listed: list[tuple[float, tuple[str, ...]]] = []
    for name, end in ((End.FRONT, ride.front), (End.REAR, ride.rear)):
        if end is None:
            continue
        for what, events in (("bottoming", end.bottoming), ("topping", end.topping)):
            listed += [(event.t_s, (name, what, *event_row(event, units))) for event in events.events]
    return Table(
        head=("end", "what", "at", "travel", "came in at", "grade"),
        rows=tuple(row for _, row in sorted(listed, key=lambda timed: timed[0])),
    )


def ride_cautions(ride: RideSummary) -> tuple[str, ...]:
    """All cautions of a ride, each naming its end, none twice."""
    return _cautions(ride.front, ride.rear, ride.cautions)


# ---------------------------------------------------------------------------------------- before/after

METRIC_LABELS = {
    "mean_mm": "mean ride position",
    "p50_mm": "half the time past",
    "p95_mm": "5 % of the time past",
    "p99_mm": "1 % of the time past",
    "travel_used_mm": "deepest",
    "travel_used_percent": "share of travel used",
    "bottoming_per_10_min": "bottoming in 10 min",
    "topping_per_10_min": "topping in 10 min",
    "compression_p95_mm_s": "compression, 95 %",
    "rebound_p95_mm_s": "rebound, 95 %",
}

# What a rise and a fall of a metric are called.
METRIC_WORDS = {
    "mean_mm": ("deeper", "shallower"),
    "p50_mm": ("deeper", "shallower"),
    "p95_mm": ("deeper", "shallower"),
    "p99_mm": ("deeper", "shallower"),
    "travel_used_mm": ("deeper", "shallower"),
    "travel_used_percent": ("uses more", "uses less"),
    "bottoming_per_10_min": ("more often", "less often"),
    "topping_per_10_min": ("more often", "less often"),
    "compression_p95_mm_s": ("faster", "slower"),
    "rebound_p95_mm_s": ("faster", "slower"),
}


def split_metric(name: str) -> tuple[End, str]:
    """Take a metric's name apart into its end and the rest.

    >>> split_metric("front_mean_mm")
    (<End.FRONT: 'front'>, 'mean_mm')
    """
    end, _, rest = name.partition("_")
    return End(end), rest


def metric_label(name: str) -> str:
    """Write a metric's name as people say it.

    >>> metric_label("rear_bottoming_per_10_min")
    'rear: bottoming in 10 min'
    """
    end, rest = split_metric(name)
    return f"{end}: {METRIC_LABELS.get(rest, rest.replace('_', ' '))}"


def metric_value(metric: Metric, value: float, units: Units = Units.MM, *, sign: bool = False) -> str:
    """Write one value of a metric in the unit it is shown in, without the unit."""
    if metric.unit == "mm":
        return show.length_number(value, units, 1, sign=sign)
    if metric.unit == "mm/s":
        return show.length_number(value, units, 0, sign=sign)
    many = max(map(abs, (metric.before, metric.after, *(metric.ci95 or ())))) >= 100
    return show.number(value, 0 if many else 1, sign=sign)


def metric_unit(metric: Metric, units: Units = Units.MM) -> str:
    """Write the unit a metric is shown in."""
    return {"mm": str(units), "mm/s": f"{units}/s"}.get(metric.unit, metric.unit)


def metric_word(metric: Metric) -> str:
    """Say in a word what happened to a metric.

    >>> metric_word(Metric(name="front_mean_mm", unit="mm", before=80, after=71, change=-9,
    ...                    ci95=(-12, -6), changed=True))
    'shallower'
    """
    if not metric.changed:
        if metric.ci95 is None:
            return "not counted" if _is_one_moment(metric) else CANNOT_TELL
        return NO_CLEAR_CHANGE
    rise, fall = METRIC_WORDS.get(split_metric(metric.name)[1], ("more", "less"))
    return rise if metric.change > 0 else fall


def comparison_table(comparison: Comparison, units: Units = Units.MM) -> Table:
    """Write every metric before and after, its change with the 95 % interval, and the word for it."""
    return Table(
        head=("", "before", "after", "change", "95 % interval", "", ""),
        rows=tuple(_metric_row(metric, units) for metric in comparison.metrics),
    )


def _metric_row(metric: Metric, units: Units) -> tuple[str, ...]:
    return (
        metric_label(metric.name),
        metric_value(metric, metric.before, units),
        metric_value(metric, metric.after, units),
        metric_value(metric, metric.change, units, sign=True),
        _metric_interval(metric, units),
        metric_unit(metric, units),
        metric_word(metric),
    )


def end_table(comparison: Comparison, end: End, units: Units = Units.MM, *, brief: bool = False) -> Table:
    """Write the metrics of one end, narrow enough for a terminal: the unit stands with the name.

    ``brief`` leaves out what a customer does not ask: the median, the 99 % and the speeds.
    """
    shown = [m for m in comparison.metrics if split_metric(m.name)[0] is end]
    shown = [m for m in shown if not brief or split_metric(m.name)[1] in BRIEF_METRICS]
    rows = []
    for metric in shown:
        _, before, after, change, between, unit, word = _metric_row(metric, units)
        label = metric_label(metric.name).removeprefix(f"{end}: ")
        rows.append(
            (label if unit == PER_10_MIN else f"{label}, {unit}", before, after, change, between, word)
        )
    return Table(head=(end, "before", "after", "change", "95 % interval", ""), rows=tuple(rows))


PER_10_MIN = "per 10 min"
BRIEF_METRICS = ("mean_mm", "p95_mm", "travel_used_percent", "bottoming_per_10_min", "topping_per_10_min")


def _metric_interval(metric: Metric, units: Units) -> str:
    if metric.ci95 is None:
        return "one moment" if _is_one_moment(metric) else NOTHING
    low, high = (metric_value(metric, value, units, sign=True) for value in metric.ci95)
    return f"{low} to {high}"


def _is_one_moment(metric: Metric) -> bool:
    """Say whether a metric is the single deepest moment of a ride, which never counts as a change."""
    return split_metric(metric.name)[1].startswith("travel_used")


def verdict(answer: Answer) -> str:
    """Answer the question of the job in one sentence."""
    return {
        "changed": "The suspension works differently now, by more than chance explains.",
        NO_CLEAR_CHANGE: "No clear change: the difference is no larger than chance from ride to ride.",
        CANNOT_TELL: "These rides cannot tell whether anything changed.",
    }.get(answer.verdict, answer.verdict)


def uses_its_travel(answer: Answer) -> str:
    """Answer in one sentence whether the bike uses its travel after the work."""
    return {
        "yes": "After the work it uses its travel without hitting the stop too often.",
        "no": "After the work it does not use its travel as it should.",
        CANNOT_TELL: "Whether it uses its travel cannot be told from these rides.",
    }.get(answer.uses_its_travel, answer.uses_its_travel)


# ------------------------------------------------------------------------------------------------ logs


def job_line(job: Job) -> str:
    """Say in one line what a job is: whose bike, for whom, which setups."""
    rider = job.rider.name
    if job.rider.mass_kg is not None:
        rider += f" ({show.mass(job.rider.mass_kg)} in gear)"
    setups = ", ".join(setup.name for setup in job.setups) or "no setup yet"
    return f"{job.id}: {job.bike.name} for {rider}; setups: {setups}"


def log_line(log: Log) -> str:
    """Say in one line what a log is: what, when, which bike and setup."""
    parts = [f"{log.kind} {log.id}", log.started.replace("T", " ")[:16], log.bike.name]
    if log.setup is not None:
        parts.append(f"setup {log.setup.name}")
    if log.load_case:
        parts.append(log.load_case)
    return ", ".join(part for part in parts if part)


def recorded(log: Log) -> str:
    """Say how much was recorded, and what the link lost of it."""
    marks = f", {_many(len(log.marks), 'mark')}" if log.marks else ""
    return f"{show.duration(log.duration_s)} min{marks}, {link_line(log)}"


def link_line(log: Log) -> str:
    """Say in one line what the link lost. The text dialect can only say *at least*."""
    link = log.link
    if link.lost_samples == 0 and link.lost_exact:
        lost = "no sample lost"
    else:
        lost = f"{'' if link.lost_exact else 'at least '}{_many(link.lost_samples, 'sample')} lost"
    parts = [lost]
    if link.damaged:
        parts.append(f"{_many(link.damaged, 'damaged frame')} dropped")
    if link.reconnects:
        parts.append(_many(link.reconnects, "reconnect"))
    if link.board_resets:
        parts.append(_many(link.board_resets, "board reset"))
    return ", ".join(parts)


def log_cautions(log: Log) -> tuple[str, ...]:
    """Say what about the recording itself a reader of its numbers should know."""
    ending = ending_line(log)
    return () if ending is None else (ending,)


def ending_line(log: Log) -> str | None:
    """Say how a recording ended where it did not end as it should; ``None`` where it did."""
    if log.ending.status == "complete":
        return None
    return f"this recording was {log.ending.status} ({log.ending.reason}); all that was written down is here"


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _cautions(
    front: EndSag | EndRide | None, rear: EndSag | EndRide | None, overall: tuple[str, ...]
) -> tuple[str, ...]:
    """Put the end's name before its cautions unless the sentence already says it; drop repeats."""
    lines = list(overall)
    for end, result in ((End.FRONT, front), (End.REAR, rear)):
        said = result.cautions if result else ()
        lines += [text if end.value in text.lower() else f"{end}: {text}" for text in said]
    return tuple(dict.fromkeys(lines))
