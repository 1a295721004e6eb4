"""Control charts of a definition's checks."""

from __future__ import annotations

from datetime import date, datetime
from typing import NamedTuple

from batches.quality.models import Check, CheckDefinition, CheckKind
from batches.quality.rules.capability import (
    Capability,
    capability,
    freedom_of_moving_ranges,
    freedom_of_ranges,
)
from batches.quality.rules.charts import (
    RANGES,
    Chart,
    c_chart,
    individuals_charts,
    mean_charts,
    np_chart,
    p_chart,
    u_chart,
)
from batches.quality.rules.runs import RULES, fired
from batches.quality.rules.widened import widened
from batches.quality.selectors.definitions import definition_row
from shopfloor.days import day_end, day_start


class PointRow(NamedTuple):
    """A point; a piece of its check where the chart is of single values."""

    check: str
    at: datetime
    value: float | None
    lower: float | None
    upper: float | None


class FiredRow(NamedTuple):
    """A rule that fired, from the first point it looked at to the one at which it did."""

    rule: str
    words: str
    first: str
    last: str


class ChartRow(NamedTuple):
    """A chart; `times_wider` than usual are the limits of one of samples that differ."""

    kind: str
    center: float
    times_wider: float | None
    points: list[PointRow]
    fired: list[FiredRow]


class IndexRow(NamedTuple):
    """A capability index and its 95 % interval."""

    name: str
    value: float
    low: float
    high: float


class CapabilityRow(NamedTuple):
    """What the process can hold."""

    values: int
    mean: float
    sigma_within: float
    sigma_overall: float
    indices: list[IndexRow]


class ChartsRow(NamedTuple):
    """What a definition's checks of a time say."""

    definition: str
    kind: str
    unit: str
    first_on: str
    last_on: str
    checks: int
    charts: list[ChartRow]
    capability: CapabilityRow | None


def charts(*, definition: str, first_on: date, last_on: date) -> ChartsRow:
    """Charts of the checks of these days, replaced ones left out. Three statements.

    Raises:
        NotFoundError: no such definition.
        TooFewPointsError: too few checks.
    """
    found = definition_row(definition)
    rows = list(
        Check.objects.filter(
            definition=found,
            at__gte=day_start(first_on),
            at__lte=day_end(last_on),
            replaced_by__isnull=True,
        )
        .order_by("at", "pk")
        .prefetch_related("results")
    )
    drawn, said = (
        _measured(found, rows)
        if found.kind == CheckKind.MEASURED
        else (_counted(found, rows), None)
    )
    return ChartsRow(
        definition=found.code,
        kind=found.kind,
        unit=found.unit,
        first_on=first_on.isoformat(),
        last_on=last_on.isoformat(),
        checks=len(rows),
        charts=drawn,
        capability=said,
    )


def _counted(definition: CheckDefinition, rows: list[Check]) -> list[ChartRow]:
    failed, tested = [row.failed for row in rows], [row.tested for row in rows]
    is_even = len(set(tested)) == 1
    if definition.kind == CheckKind.FLAWS:
        by_piece = u_chart(failed, tested)
        made = c_chart(failed) if is_even else by_piece
    else:
        by_piece = p_chart(failed, tested)
        made = np_chart(failed, tested=tested[0]) if is_even else by_piece
    return [_chart_row(each, rows) for each in (made, widened(by_piece)) if each is not None]


def _measured(
    definition: CheckDefinition, rows: list[Check]
) -> tuple[list[ChartRow], CapabilityRow | None]:
    """Means and ranges where all checks are of one size that tables have; else single values."""
    groups = [
        [float(each.value) for each in row.results.all() if each.value is not None] for row in rows
    ]
    values = [value for group in groups for value in group]
    size = len(groups[0]) if len({len(group) for group in groups}) == 1 else 0
    if size in RANGES:
        pair = mean_charts(groups)
        freedom = freedom_of_ranges(subgroups=len(groups), size=size)
        named = rows
    else:
        pair = individuals_charts(values)
        freedom = freedom_of_moving_ranges(len(values))
        named = [row for row, group in zip(rows, groups, strict=True) for _ in group]
    said = capability(
        values,
        lower=None if definition.lower is None else float(definition.lower),
        upper=None if definition.upper is None else float(definition.upper),
        sigma_within=pair[0].sigma_within or 0.0,
        freedom_within=freedom,
    )
    return [_chart_row(each, named) for each in pair], None if said is None else _said(said)


def _said(said: Capability) -> CapabilityRow:
    indices = {"cp": said.cp, "cpk": said.cpk, "pp": said.pp, "ppk": said.ppk}
    return CapabilityRow(
        values=said.count,
        mean=said.mean,
        sigma_within=said.sigma_within,
        sigma_overall=said.sigma_overall,
        indices=[IndexRow(name, *index) for name, index in indices.items() if index is not None],
    )


def _chart_row(chart: Chart, rows: list[Check]) -> ChartRow:
    return ChartRow(
        kind=chart.kind,
        center=chart.center,
        times_wider=chart.times_wider,
        points=[
            PointRow(row.code, row.at, None, None, None)
            if point is None
            else PointRow(row.code, row.at, point.value, point.lower, point.upper)
            for row, point in zip(rows, chart.points, strict=True)
        ],
        fired=[
            FiredRow(hit.rule, RULES[hit.rule].words, rows[hit.first].code, rows[hit.last].code)
            for hit in fired(chart)
        ],
    )
