"""What can stand in the way of an import."""

from __future__ import annotations

from collections.abc import Sequence

from batches.exchange.rules.problems import PROBLEMS_SHOWN_MAX, Problem, counted_lines
from shopfloor.errors import InvalidInputError, ShopError


class ImportRefusedError(InvalidInputError):
    """Something in the sheets is wrong; `facts["problems"]` names each. Nothing is written."""

    code = "import_refused"

    def __init__(self, detail: str, *, problems: Sequence[Problem]) -> None:
        shown = [problem.facts() for problem in problems[:PROBLEMS_SHOWN_MAX]]
        super().__init__(detail, problems=shown, count=len(problems))
        self.lines = counted_lines(problems)


class ImportTooLargeError(ShopError):
    """More rows than are taken over the network; the command takes any number."""

    code = "import_too_large"
    status = 413

    def __init__(self, rows: int, rows_max: int, command: str) -> None:
        super().__init__(
            f"These are {rows} rows, and at most {rows_max} are taken here. On the computer that "
            f"runs this, put the files into a folder and run: {command}",
            rows=rows,
            rows_max=rows_max,
            command=command,
        )
