"""People of a test shop, entered the way an owner enters them, and clients that come in as them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from rest_framework.test import APIClient

from shopfloor.models import User
from shopfloor.operations import create_first_owner, create_person, issue_token
from shopfloor.roles import Role
from shopfloor.selectors import person_named

PASSWORD = "seven wet otters"
MONDAY = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)


class Clock:
    """A time that stands still until it is moved on."""

    def __init__(self) -> None:
        self.at = MONDAY

    def now(self) -> datetime:
        """What time it is."""
        return self.at

    def shift(self, by: timedelta) -> None:
        """Move it on."""
        self.at += by


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr("django.utils.timezone.now", clock.now)
    monkeypatch.setattr("axes.handlers.proxy.now", clock.now)
    return clock


@pytest.fixture
def owner(db: None) -> User:
    create_first_owner(username="olga", display_name="Olga Owner", password=PASSWORD, at=MONDAY)
    return person_named("olga")


@pytest.fixture
def enter(owner: User) -> Callable[..., User]:
    """Enters somebody of a role."""

    def person(role: Role, *, username: str = "", display_name: str = "") -> User:
        name = username or role.value
        create_person(
            username=name,
            display_name=display_name or f"The {role.value}",
            role=role,
            password=PASSWORD,
            by=owner,
            at=MONDAY,
        )
        return person_named(name)

    return person


@pytest.fixture
def client_of(db: None) -> Callable[[User], APIClient]:
    """A program that comes in as somebody, by token."""

    def client(person: User) -> APIClient:
        issued = issue_token(username=person.username, name="a test", by=person, at=MONDAY)
        return APIClient(headers={"Authorization": f"Token {issued.text}"})

    return client


@pytest.fixture
def owner_api(owner: User, client_of: Callable[[User], APIClient]) -> APIClient:
    return client_of(owner)
