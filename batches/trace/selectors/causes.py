"""What the failures of a period have in common, in a sentence and in tables."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from batches.runs.models import ScrapReason
from batches.trace.errors import NothingToTraceError, StageNeededError
from batches.trace.rules.bands import Exposure
from batches.trace.rules.wording import (
    cause_sentence,
    complaints_sentence,
    is_too_few,
    kinds_sentence,
    nothing_sentence,
    telling_sentence,
    tie_sentence,
    too_few_sentence,
)
from batches.trace.selectors.results import COMPLAINTS, SOURCES, KindRow
from shopfloor.errors import InvalidInputError, NotFoundError
from shopfloor.snapshot import snapshot

if TYPE_CHECKING:
    from batches.trace.rules.causes import Cause, ExposureTable, Findings
    from batches.trace.selectors.exposures import Period

ROWS_MAX: Final = 100
"""Exposures shown, the least likely to be chance first."""
TESTS_MAX: Final = 5
"""Tests proposed for one cause: against those that explain the results best."""


@dataclass(frozen=True, slots=True)
class ExposureRow:
    """One exposure's counts and what they say; shares are 0 to 1.

    Attributes:
        together: Others that every tested piece met with it or not at all.
        ratio: Risk ratio, with `ratio_low` and `ratio_high` its 95 % interval; None: no comparison.
        p: Chance of as many failures with it, were it no cause.
        false_share: Share of false finds among the exposures that stand out as far.
        left: Risk ratio among pieces alike in the causes found.
    """

    kind: str
    name: str
    together: list[str]
    tested_with: int
    failed_with: int
    tested_without: int
    failed_without: int
    rate_with: float | None
    rate_without: float | None
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    p: float
    false_share: float
    left: float | None


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A cause, or one of several that the results cannot tell apart.

    Attributes:
        words: In a sentence.
        chance: Of anything standing out as far, were nothing at fault.
        cannot_tell_from: Exposures that explain the results nearly as well.
        tests: What would tell them apart, a sentence each.
        is_too_few: So many do that it is nothing to act on.
        complaints_with: How many of the chosen complaints may be of it; None: not chosen or not
            told.
    """

    words: str
    chance: float
    is_too_few: bool
    complaints_with: int | None
    exposure: ExposureRow
    cannot_tell_from: list[ExposureRow]
    tests: list[str]


@dataclass(frozen=True, slots=True)
class CountedRow:
    """A complaint that was looked at.

    Attributes:
        left_out: Why it does not count, or not wholly; empty if it does.
    """

    complaint: str
    pieces: int
    left_out: str


@dataclass(frozen=True, slots=True)
class Causes:
    """The answer.

    Attributes:
        words: All of it in a sentence or two.
        inflation: How many times as much entries vary as single pieces would.
        looked_at: How many exposures were compared.
        nearest: Where there is no cause, what comes nearest to one.
        tests: The kinds of test that found the failures, and what each tested.
        entries: Whose pieces were tested; a batch that was checked as a whole is one.
        untold: Pieces tested by checks, or complained of, of which nobody can say what they were:
            left out.
        complaints: That were looked at; each counts as one failure.
        is_spread: Good pieces that were not told by station were taken to be spread evenly.
    """

    defect: str
    defect_name: str
    stage: str
    first_on: date
    last_on: date
    words: str
    entries: int
    tested: int
    failed: int
    inflation: float
    looked_at: int
    tests: list[KindRow]
    untold: int
    complaints: list[CountedRow]
    is_spread: bool
    causes: list[CauseRow]
    nearest: list[ExposureRow]
    exposures: list[ExposureRow]


@snapshot()
def causes(
    *,
    defect: str,
    first_on: date,
    last_on: date,
    stage: str = "",
    source: str = "",
    complaints: Collection[str] = (),
    on: date | None = None,
) -> Causes:
    """What the failures have in common. At most eleven statements, 22 with complaints.

    Args:
        defect: Code of a scrap reason.
        stage: Code of the stage, where the reason is given at several.
        first_on: First of the shop's days.
        last_on: Last, not before the first.
        source: One of `SOURCES`; empty: all of them.
        complaints: Codes of some that are asked about: of each cause it is told how many of them
            may be of it, and of customers' complaints alone no others count.
        on: What customers told until then counts; left out, until the last day.

    Raises:
        NotFoundError: no such reason.
        InvalidInputError: a complaint is not of this defect, was not told then, or was replaced.
        StageNeededError: it is given at several stages, or not at that one.
        NothingToTraceError: nothing was tested for it in that time.
    """
    # Heavy, and not needed to start.
    from batches.trace.rules.causes import findings  # noqa: PLC0415
    from batches.trace.selectors.exposures import period, stages_of  # noqa: PLC0415

    reason = ScrapReason.objects.select_related("stage").filter(code=defect).first()
    if reason is None:
        raise NotFoundError(
            "No scrap reason has this code. The defect is one of those pieces are scrapped for.",
            defect=defect,
        )
    stage = _stage(reason, stage, stages_of(reason, first_on, last_on))
    sources = (source,) if source else SOURCES
    on = on or last_on
    only = complaints if source == COMPLAINTS else ()
    found = period(reason, stage, first_on, last_on, sources, on=on, only=only) if stage else None
    if found is None:
        raise NothingToTraceError(
            "No pieces that could have this defect were recorded in that time. Choose other days.",
            defect=defect,
            first_on=first_on.isoformat(),
            last_on=last_on.isoformat(),
        )
    chosen = _chosen(found, complaints)
    results = found.results
    said = findings(results, found.at_work)
    tested, failed = round(results.tested.sum()), round(results.failed.sum())
    rows = [_cause_row(each, said, found, chosen) for each in said.causes]
    nearest = [found.exposures[each] for each in said.nearest]
    nothing = nothing_sentence(failed=failed, tested=tested, chance=said.chance, nearest=nearest)
    several = [kinds_sentence([each.words for each in found.kinds])] if found.kinds[1:] else []
    return Causes(
        defect=reason.code,
        defect_name=reason.name,
        stage=stage,
        first_on=first_on,
        last_on=last_on,
        words=" ".join([*(row.words for row in rows), *([] if rows else [nothing]), *several]),
        entries=len(set(results.entry.tolist())),
        tested=tested,
        failed=failed,
        inflation=said.inflation,
        looked_at=len(found.exposures),
        tests=found.kinds,
        untold=found.untold,
        complaints=[CountedRow(row.code, row.pieces, row.left_out) for row in found.complaints],
        is_spread=found.is_spread,
        causes=rows,
        nearest=[_row(found.exposures[each], said.tables[each]) for each in said.nearest],
        exposures=_rows(said, found.exposures),
    )


def _stage(reason: ScrapReason, wanted: str, stages: list[str]) -> str:
    """The stage to look at, of those that have it; empty where none has."""
    if wanted in stages:
        return wanted
    if wanted or len(stages) > 1:
        raise StageNeededError(
            "Stages fail at rates of their own, so one is looked at at a time. Name one that this "
            "reason is given at with stage=; the facts have them.",
            defect=reason.code,
            stage=wanted,
            stages=stages,
        )
    return stages[0] if stages else ""


def _chosen(found: Period, complaints: Collection[str]) -> set[str]:
    """Those chosen of which it is known who made their pieces."""
    known = {row.code: row for row in found.complaints}
    if strange := sorted(set(complaints) - known.keys()):
        raise InvalidInputError(
            "These complaints are not of this defect, were not told in these days, were replaced, "
            "or complaints are not what is looked at. Leave them out or choose other days.",
            complaints=strange,
        )
    return {code for code in complaints if known[code].entry_ids}


def _cause_row(cause: Cause, said: Findings, found: Period, chosen: Collection[str]) -> CauseRow:
    exposures = found.exposures
    name, table = exposures[cause.number], said.tables[cause.number]
    others = [exposures[each] for each in cause.tied[1:]]
    too_few = is_too_few(name, others)
    complaints_with = found.complaints_with(cause.number, chosen)
    words = []
    if complaints_with is not None and not too_few:
        words.append(complaints_sentence(name, complaints_with, len(chosen)))
    if too_few:
        words.append(too_few_sentence(name, others, table))
    else:
        words.append(cause_sentence(name, table, cause, is_only=len(said.causes) == 1))
        words += [tie_sentence(others)] if others else []
    return CauseRow(
        words=" ".join(words),
        chance=cause.chance,
        is_too_few=too_few,
        complaints_with=complaints_with,
        exposure=_row(name, table),
        cannot_tell_from=[_row(exposures[each], said.tables[each]) for each in cause.tied[1:]],
        tests=[
            telling_sentence(name, other, table) for other in others[: 0 if too_few else TESTS_MAX]
        ],
    )


def _rows(said: Findings, exposures: list[Exposure]) -> list[ExposureRow]:
    order = sorted(range(len(exposures)), key=said.tables.p.__getitem__)
    return [_row(exposures[number], said.tables[number]) for number in order[:ROWS_MAX]]


def _row(exposure: Exposure, said: ExposureTable) -> ExposureRow:
    table, ratio = said.table, said.ratio
    return ExposureRow(
        kind=exposure.kind,
        name=exposure.name,
        together=[each.words for each in exposure.together],
        tested_with=table.tested_with,
        failed_with=table.failed_with,
        tested_without=table.tested_without,
        failed_without=table.failed_without,
        rate_with=table.rate_with,
        rate_without=table.rate_without,
        ratio=None if ratio is None else ratio.value,
        ratio_low=None if ratio is None else ratio.low,
        ratio_high=None if ratio is None else ratio.high,
        p=said.p,
        false_share=said.false_share,
        left=said.left,
    )
