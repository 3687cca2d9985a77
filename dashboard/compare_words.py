"""Before against after in words: the metrics, what a change is called, the verdict."""

from __future__ import annotations

from analysis.compare_results import Answer, Comparison, Metric
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import CANNOT_TELL, Table
from ingest.records import End

NO_CLEAR_CHANGE = "no clear change"

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
    largest = max(map(abs, (metric.before, metric.after, *(metric.ci95 or ()))))
    return show.number(value, 0 if largest >= 100 and metric.unit != "%" else 1, sign=sign)


def metric_unit(metric: Metric, units: Units = Units.MM) -> str:
    """Write the unit a metric is shown in."""
    return {"mm": str(units), "mm/s": f"{units}/s"}.get(metric.unit, metric.unit)


def metric_share(metric: Metric) -> str:
    """Write the change of a depth as a share of the travel; nothing for what is no depth.

    >>> metric_share(Metric(name="front_mean_mm", unit="mm", before=80, after=71, change=-9,
    ...                     ci95=None, changed=False, change_percent_of_travel=-3.9))
    '−3.9 %'
    """
    if metric.change_percent_of_travel is None:
        return ""
    return f"{show.number(metric.change_percent_of_travel, sign=True)} %"


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
