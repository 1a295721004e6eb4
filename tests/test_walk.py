"""Every page answers, in few statements."""

from __future__ import annotations

import re
from http import HTTPStatus

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.pages import STATEMENTS_MAX, browse
from tests.walking import fill_shop, pages

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.only_on("sqlite"),  # as many on each database
]

NUMBERED = re.compile(r"\bQ-\w+")
"""A code made of how many rows there were before."""

WHOLE_PLAN = {
    "/planning/promises/": 16,
    "/planning/requirements/": 16,
    "/planning/requirements/LURE/": 17,
}
"""Orders, plans, bills, stock, what comes, lead times and the reorder list, all that there is."""
A_CASE = {"/recalls/…/": 16}
"""What is at risk, with all that was done about it, as of one moment."""
CAUSES = {"/trace/causes/?defect=LEAK": 25}
"""Where customers told of it too: their pieces are traced upward beside those of the bench.

Three list the newest complaints, to choose from.
"""


def test_every_page_answers_in_few_statements() -> None:
    client = browse(fill_shop())
    unanswered, statements = [], {}
    for address in pages(client):
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(address)
        statements[address] = len(asked)
        if answer.status_code not in {HTTPStatus.OK, HTTPStatus.SEE_OTHER}:
            unanswered.append((address, answer.status_code))
    assert unanswered == []
    more = {each: count for each, count in statements.items() if count > STATEMENTS_MAX}
    assert {NUMBERED.sub("…", each): count for each, count in more.items()} == (
        WHOLE_PLAN | A_CASE | CAUSES
    )
