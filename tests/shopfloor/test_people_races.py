"""Two owners at once, on a database of several connections."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connections

from shopfloor.errors import ShopError
from shopfloor.models import User
from shopfloor.operations import change_role, create_first_owner, create_person
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from tests.needs import need_threads
from tests.shopfloor.conftest import MONDAY, PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)


def two_owners() -> User:
    create_first_owner(username="olga", display_name="Olga", password=PASSWORD, at=MONDAY)
    owner = person_named("olga")
    create_person(
        username="odette",
        display_name="Odette",
        role=Role.OWNER,
        password=None,
        by=owner,
        at=MONDAY,
    )
    return owner


def at_once(*calls: Callable[[], object]) -> list[str]:
    """Run the calls together; the code of each refusal, or `done`."""
    start = Barrier(len(calls))

    def run(call: Callable[[], object]) -> str:
        try:
            start.wait()
            call()
        except ShopError as error:
            return error.code
        finally:
            connections.close_all()
        return "done"

    with ThreadPoolExecutor(len(calls)) as pool:
        return sorted(pool.map(run, calls))


def test_of_two_owners_who_step_down_at_once_one_stays() -> None:
    need_threads()
    owner = two_owners()
    told = at_once(
        lambda: change_role(username="olga", role=Role.LEAD, by=owner, at=MONDAY),
        lambda: change_role(username="odette", role=Role.LEAD, by=owner, at=MONDAY),
    )
    assert told == ["done", "last_owner"]
    assert User.objects.filter(role=Role.OWNER).count() == 1


def test_of_two_who_enter_the_same_name_at_once_one_is_told() -> None:
    need_threads()
    owner = two_owners()

    def enter() -> object:
        return create_person(
            username="bea",
            display_name="Bea",
            role=Role.BENCH,
            password=None,
            by=owner,
            at=MONDAY,
        )

    assert at_once(enter, enter) == ["done", "username_taken"]
    assert User.objects.filter(username="bea").count() == 1
