"""Doors asked at random, as their description allows: none breaks, each answers as described.

The same questions on every run. Many more, of all doors and against a shop that runs, are asked by
the command line of schemathesis.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.strategies import from_regex
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import content_type_conformance, response_schema_conformance

from shopfloor.operations import create_first_owner, issue_token
from shopfloor.selectors import person_named
from shopfloor.wsgi import application

AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
CHECKS = [not_a_server_error, content_type_conformance, response_schema_conformance]
DOORS = [
    ("GET", "items/"),
    ("POST", "items/"),
    ("GET", "items/{code}/convert/"),
    ("POST", "people/"),
    ("POST", "offers/"),
    ("POST", "supplier-orders/"),
    ("GET", "supplier-orders/"),
    ("POST", "receipts/"),
    ("GET", "lots/"),
    ("POST", "lots/{code}/split/"),
    ("POST", "lots/{code}/adjust/"),
    ("POST", "counts/"),
    ("POST", "reorder/{code}/policy/"),
    ("GET", "reorder/"),
    ("POST", "bills/"),
    ("POST", "batches/"),
    ("POST", "batches/{code}/entries/"),
    ("POST", "shipments/"),
    ("GET", "trace/upstream/"),
    ("GET", "scan/"),
]


# Left to itself it writes any text for a number, and no body is ever read to its end.
schemathesis.openapi.format("decimal", from_regex(r"[0-9]{1,3}(\.[0-9]{1,2})?", fullmatch=True))


@pytest.fixture(scope="session")
def described() -> Any:
    """The description, as a program would read it."""
    generator: Any = SchemaGenerator
    schema = schemathesis.openapi.from_dict(generator().get_schema(request=None, public=True))
    schema.app = application
    return schema


@pytest.fixture
def one_connection(db: None) -> Iterator[None]:
    """A request ends without closing the connection of the test, as with Django's own client."""
    ends = (request_started, request_finished)
    for end in ends:
        end.disconnect(close_old_connections)
    yield
    for end in ends:
        end.connect(close_old_connections)


@pytest.fixture
def token(one_connection: None) -> str:
    create_first_owner(username="olga", display_name="Olga", password=None, at=AT)
    return issue_token(username="olga", name="any", by=person_named("olga"), at=AT).text


@pytest.mark.parametrize(("method", "path"), DOORS)
def test_a_door_asked_at_random_answers_as_described(
    described: Any, token: str, method: str, path: str
) -> None:
    door = described[f"/api/v1/{path}"][method]

    @settings(max_examples=15, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
    @given(case=door.as_strategy())
    def ask(case: Any) -> None:
        case.call_and_validate(headers={"Authorization": f"Token {token}"}, checks=CHECKS)

    ask()
