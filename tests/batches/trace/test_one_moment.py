"""A trace is of one moment, whoever records something while it is read."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from batches.trace.selectors import Question, downstream
from inventory.stock.operations import dispose_of_lot
from shopfloor.models import User
from tests.batches.trace.conftest import Run, at_minute
from tests.needs import need_threads
from tests.racing import at_once

pytestmark = pytest.mark.django_db(transaction=True)


class AfterTheFirst:
    """Lets something happen on another connection once the first statement has been answered."""

    def __init__(self, happening: Callable[[], object]) -> None:
        self.happening = happening
        self.is_over = False

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001 - as Django calls it
        """Around each statement."""
        answer = execute(sql, params, many, context)
        if not self.is_over and sql.lstrip().upper().startswith(("SELECT", "WITH")):
            self.is_over = True
            at_once(self.happening)
        return answer


def test_what_is_recorded_while_a_trace_is_read_is_in_all_of_it_or_in_nothing(
    run: Run, lead: User
) -> None:
    need_threads()
    code = run.boxed[1].code
    question = Question(lot=run.adhesive.code)
    before = downstream(question)

    def dispose() -> object:
        return dispose_of_lot(lot_code=code, qty_base=24, stamp=at_minute(lead, 200))

    meanwhile = AfterTheFirst(dispose)
    with connection.execute_wrapper(meanwhile):
        read = downstream(question)
    assert meanwhile.is_over
    assert read == before
    assert downstream(question) != before
