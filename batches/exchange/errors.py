"""What can stand in the way of an import."""

from __future__ import annotations

from collections.abc import Sequence

from batches.exchange.rules.problems import PROBLEMS_SHOWN_MAX, Problem, counted_lines
from shopfloor.errors import InvalidInputError


class ImportRefusedError(InvalidInputError):
    """Something in the sheets is wrong; `facts["problems"]` names each. Nothing is written."""

    code = "import_refused"

    def __init__(self, detail: str, *, problems: Sequence[Problem]) -> None:
        shown = [problem.facts() for problem in problems[:PROBLEMS_SHOWN_MAX]]
        super().__init__(detail, problems=shown, count=len(problems))
        self.lines = counted_lines(problems)
