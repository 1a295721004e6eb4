"""The papers of a printing, of which each reprint says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from batches.labels.models import PrintedPaper, Printing
from batches.labels.rules.papers import Paper
from batches.labels.selectors.kinds import PAPERS
from shopfloor.days import shop_day


def noted_papers(printing: Printing, *, at: datetime) -> list[Paper]:
    """Its papers, each copy, as things stand; a reprint says which and of what day.

    One statement beside those of the kind.

    Raises:
        NotFoundError, ConflictError: a paper can no longer be drawn: of the kind.
    """
    rows = PrintedPaper.objects.filter(printing=printing).order_by("pk")
    numbers: dict[str, int] = dict(rows.values_list("code", "number"))
    papers = PAPERS[printing.kind].papers(list(numbers), at=at)
    day = shop_day(printing.at).isoformat()
    return [
        _noted(paper, number - 1, day)
        for paper, number in zip(papers, numbers.values(), strict=True)
        for _ in range(printing.copies)
    ]


def _noted(paper: Any, reprint: int, day: str) -> Paper:
    noted: Paper = replace(paper, print_note=f"Reprint {reprint}, {day}") if reprint else paper
    return noted
