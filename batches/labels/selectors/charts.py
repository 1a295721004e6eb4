"""Control charts as a report that somebody reads alone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from batches.labels.rules.papers_report import Report, Section, Table
from batches.labels.selectors.moments import minute_text
from batches.labels.selectors.reports import table
from batches.quality.rules.drawing import Point, laid_out, short, title_of
from batches.quality.selectors.charts import CapabilityRow, ChartRow, ChartsRow, FiredRow, charts
from batches.quality.selectors.definitions import definition_row

LIMITS = "The middle line is {center}; the dashed ones are three standard errors off it."
FIRED = "Not by chance alone, where a square stands:"


def chart_paper(*, definition: str, first_on: date, last_on: date, at: datetime) -> Report:
    """The charts of a definition's checks of these days. Four statements.

    Raises:
        NotFoundError: no such definition.
        TooFewPointsError: too few checks.
    """
    said = charts(definition=definition, first_on=first_on, last_on=last_on)
    found = definition_row(definition)
    return Report(
        code=found.code,
        title=f"Control charts of {found.name}",
        facts=(
            ("Stage", f"{found.stage.code} {found.stage.name}"),
            ("Days", f"{said.first_on} to {said.last_on}"),
            ("Checks", str(said.checks)),
            ("As of", minute_text(at)),
        ),
        sections=tuple(_sections(said)),
    )


def _sections(said: ChartsRow) -> Iterator[Section]:
    for chart in said.charts:
        yield _drawn(chart, said.unit)
    if said.capability is not None:
        yield _capability(said.capability, said.unit)
    for chart in said.charts:
        title = f"{title_of(chart.kind, said.unit)}: every point"
        yield Section(title=title, table=_points(chart))


def _drawn(chart: ChartRow, unit: str) -> Section:
    fired = {row.last for row in chart.fired}
    points = [
        Point(row.value, row.lower, row.upper, words="", is_fired=row.check in fired)
        for row in chart.points
    ]
    rules = [f"{row.words.rstrip('.')}: {_where(row)}" for row in chart.fired]
    return Section(
        title=title_of(chart.kind, unit),
        words=(
            LIMITS.format(center=short(chart.center)),
            *([FIRED, *rules] if rules else ["Nothing but chance is seen."]),
        ),
        drawing=laid_out(points, center=chart.center),
    )


def _where(row: FiredRow) -> str:
    return f"at {row.last}" if row.first == row.last else f"from {row.first} to {row.last}"


def _capability(said: CapabilityRow, unit: str) -> Section:
    widths = {"Index": 25, "Value": 25, "At least": 25, "At most": 25}
    rows = [
        [row.name, f"{row.value:.2f}", f"{row.low:.2f}", f"{row.high:.2f}"] for row in said.indices
    ]
    words = f"{said.values} values, mean {short(said.mean)} {unit}".rstrip()
    return Section(
        title="What the process can hold",
        words=(f"{words}. At least and at most: the 95 % interval.",),
        table=table(widths, rows, nothing="No index: the limits are missing."),
    )


def _points(chart: ChartRow) -> Table:
    widths = {"Check": 20, "When": 26, "Measure": 18, "Lower limit": 18, "Upper limit": 18}
    rows = (
        [row.check, minute_text(row.at), short(row.value), short(row.lower), short(row.upper)]
        for row in chart.points
    )
    return table(widths, rows, nothing="No point.")
