"""Every door asked at random, as its description allows: it answers as described, and all holds.

The doors are those of the description, so a new one is asked as soon as it stands. The same few
questions on every run; for many: `SHOP_FUZZ=100 manage.py test tests/test_api_fuzz.py`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, Final

import pytest
import schemathesis
from django.core.management import call_command
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.strategies import dates, datetimes, from_regex, randoms
from pytest_django import DjangoDbBlocker
from rest_framework.test import APIClient
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from batches.exchange.selectors.proofs import floor_proofs
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.operations import create_first_owner, create_person, issue_token
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from shopfloor.wsgi import application
from tests.batches.exchange.small import SMALL
from tests.examples import few_of
from tests.fuzzing import Codes, codes_of, in_address, mixed

AT: Final = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
API: Final = "/api/v1/"
EXAMPLES: Final = int(os.environ.get("SHOP_FUZZ") or few_of(4, least=2))
CHECKS: Final = [
    not_a_server_error,
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
]

# Left to itself it writes any text for a number and any year, and no body is read to its end.
schemathesis.openapi.format("decimal", from_regex(r"[0-9]{1,3}(\.[0-9]{1,2})?", fullmatch=True))
schemathesis.openapi.format("date", dates(AT.date(), date(2026, 12, 31)).map(str))
schemathesis.openapi.format(
    "date-time",
    datetimes(datetime(2026, 3, 2), datetime(2026, 12, 31)).map(lambda at: f"{at.isoformat()}Z"),  # noqa: DTZ001
)


def _description() -> dict[str, Any]:
    generator: Any = SchemaGenerator
    schema: dict[str, Any] = generator().get_schema(request=None, public=True)
    # No door takes a field it does not know (docs/api.md); asking it again and again is idle.
    for name, shape in schema["components"]["schemas"].items():
        if name.endswith("Request"):
            shape["additionalProperties"] = False
    return schema


def _doors(schema: dict[str, Any]) -> list[tuple[str, str]]:
    """Method and path of every door, without the description itself."""
    return [
        (method.upper(), path.removeprefix(API))
        for path, methods in schema["paths"].items()
        for method in methods
        if path != f"{API}schema/"
    ]


DESCRIPTION: Final = _description()
DOORS: Final = _doors(DESCRIPTION)


@pytest.fixture(scope="module")
def described() -> Any:
    """The description, as a program would read it."""
    schema = schemathesis.openapi.from_dict(DESCRIPTION)
    schema.app = application
    return schema


@pytest.fixture(scope="module")
def questions(described: Any) -> Callable[[str, str], Any]:
    """What may be asked of a door; to make that takes longer than to ask."""

    @cache
    def asked(method: str, path: str) -> Any:
        door = described[f"{API}{path}"][method]
        found = door.as_strategy()
        if method == "POST":  # some of it breaks the description, and is refused
            found |= door.as_strategy(generation_mode=GenerationMode.NEGATIVE)
        return found

    return asked


@pytest.fixture(scope="module")
def small_shop(
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[None]:
    """One of everything."""
    folder: Path = tmp_path_factory.mktemp("sheets")
    for name, text in SMALL.items():
        (folder / name).write_text(text, encoding="utf-8")
    around_all = transaction.atomic()
    around_all._from_testcase = True  # type: ignore[attr-defined]  # as Django's own test case does
    with django_db_blocker.unblock(), around_all:
        create_first_owner(username="olga", display_name="Olga", password=None, at=AT)
        call_command("import", str(folder))
        for role in (Role.LEAD, Role.VIEWER):
            create_person(
                username=role.value,
                display_name="A person",
                role=role,
                password=None,
                by=person_named("olga"),
                at=AT,
            )
        yield
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def tokens(small_shop: None) -> dict[str, str]:
    """What lets the owner and the least of all roles in."""
    owner = person_named("olga")
    return {
        name: issue_token(username=name, name="any", by=owner, at=AT).text
        for name in ("olga", Role.VIEWER.value)
    }


@pytest.fixture(scope="module")
def codes(tokens: dict[str, str]) -> Codes:
    """What stands, by list."""
    client = APIClient(headers={"Authorization": f"Token {tokens['olga']}"})
    lists = [path.strip("/") for method, path in DOORS if method == "GET" and "{" not in path]
    answers = {name: client.get(f"{API}{name}/") for name in lists}
    found = {
        name: codes_of(answer.json()["results"])
        for name, answer in answers.items()
        if answer.status_code == 200 and "results" in answer.json()
    }
    assert {name for name, standing in found.items() if standing} >= {"lots", "batches", "boxes"}
    return found


@pytest.fixture
def one_connection(codes: Codes) -> Iterator[None]:
    """A request ends without closing the connection of the test, as with Django's own client."""
    ends = (request_started, request_finished)
    for end in ends:
        end.disconnect(close_old_connections)
    yield
    for end in ends:
        end.connect(close_old_connections)


@pytest.mark.django_db
@pytest.mark.usefixtures("one_connection")
@pytest.mark.parametrize(
    "who",
    # What the least of all may ask is asked by the owner too: none of the statements is hers alone.
    ["olga", pytest.param("viewer", marks=pytest.mark.only_on("sqlite"))],
)
@pytest.mark.parametrize(("method", "path"), DOORS)
def test_a_door_asked_at_random_answers_as_described_and_all_holds(
    questions: Callable[[str, str], Any],
    tokens: dict[str, str],
    codes: Codes,
    method: str,
    path: str,
    who: str,
) -> None:
    @settings(
        max_examples=EXAMPLES, phases=[Phase.generate], suppress_health_check=list(HealthCheck)
    )
    @given(case=questions(method, path), dice=randoms(use_true_random=False))
    def ask(case: Any, dice: Random) -> None:
        case.path_parameters = in_address(case.path_parameters or {}, path, dice, codes)
        case.query = mixed(case.query, dice, codes)
        case.body = mixed(case.body, dice, codes)
        case.call_and_validate(headers={"Authorization": f"Token {tokens[who]}"}, checks=CHECKS)

    ask()
    assert [
        line for proof in (*ledger_proofs(), *floor_proofs()) for line in proof.differences
    ] == []
