"""Wrong passwords: how many, of whom, from where, and who is not shut out by them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from shopfloor.lockout import OF_ADDRESS, OF_NAME
from shopfloor.models import AccessEvent, User
from shopfloor.operations import set_password
from shopfloor.roles import Role
from tests.shopfloor.conftest import PASSWORD, Clock

HOME, AWAY = "192.0.2.1", "198.51.100.1"
FAILED, TOO_MANY, IN = 200, 429, 302


def sign_in(
    username: str = "olga", password: str = PASSWORD, *, at: str = HOME, **headers: str
) -> int:
    """The status of the answer."""
    body = {"username": username, "password": password}
    return Client(REMOTE_ADDR=at).post("/sign-in/", body, headers=headers).status_code


def fail(times: int, username: str = "olga", *, at: str = HOME) -> list[int]:
    return [sign_in(username, "wrong", at=at) for _ in range(times)]


def test_the_tenth_wrong_one_closes_the_pair_however_the_name_is_typed(owner: User) -> None:
    names = ["olga", "OLGA", "Olga", "oLGA", "olgA"] * 2
    assert [sign_in(name, "wrong") for name in names] == [FAILED] * 9 + [TOO_MANY]
    assert sign_in("OlgA") == TOO_MANY
    assert sign_in(at=AWAY) == IN


def test_nine_wrong_ones_and_a_right_one_begin_anew(owner: User) -> None:
    fail(9)
    assert sign_in() == IN
    assert fail(9) == [FAILED] * 9


def test_after_a_quarter_of_an_hour_the_pair_is_open_though_it_was_tried_meanwhile(
    owner: User, clock: Clock
) -> None:
    fail(10)
    clock.shift(timedelta(minutes=14))
    assert sign_in() == TOO_MANY
    clock.shift(timedelta(minutes=1, seconds=1))
    assert sign_in() == IN


def test_many_addresses_close_a_name_but_not_where_its_person_signs_in(owner: User) -> None:
    assert sign_in(at=HOME) == IN
    for n in range(OF_NAME):
        fail(1, at=f"198.51.100.{n + 1}")
    assert sign_in(at="203.0.113.9") == TOO_MANY
    assert sign_in(at=HOME) == IN


def test_a_name_is_open_up_to_the_last_one_that_passes(owner: User) -> None:
    for n in range(OF_NAME - 1):
        fail(1, at=f"198.51.100.{n + 1}")
    assert sign_in(at="203.0.113.9") == IN


def test_many_names_close_an_address_but_not_for_who_signs_in_there(
    owner: User, enter: Callable[..., User]
) -> None:
    enter(Role.BENCH)
    assert sign_in(at=HOME) == IN
    for n in range(OF_ADDRESS):
        fail(1, f"nobody{n}", at=HOME)
    assert sign_in("bench", at=HOME) == TOO_MANY
    assert sign_in("bench", at=AWAY) == IN
    assert sign_in(at=HOME) == IN


def test_a_name_that_nobody_has_is_closed_like_any_other(owner: User) -> None:
    assert fail(10, "nobody") == [FAILED] * 9 + [TOO_MANY]
    for n in range(OF_NAME):
        fail(1, "no-one", at=f"198.51.100.{n + 1}")
    assert fail(1, "no-one", at="203.0.113.9") == [TOO_MANY]


def test_a_new_password_opens_the_door_again(owner: User) -> None:
    fail(10)
    set_password(username="olga", password="nine dry herons", by=owner, at=timezone.now())
    assert sign_in(password="nine dry herons") == IN


def test_behind_a_proxy_the_visitors_are_told_apart(owner: User, settings: Any) -> None:
    settings.SHOP_PRODUCTION = True
    for _ in range(10):
        sign_in(password="wrong", at="127.0.0.1", X_Forwarded_For=f"{HOME}, {AWAY}")
    assert sign_in(at="127.0.0.1", X_Forwarded_For=f"{HOME}, {AWAY}") == TOO_MANY
    assert sign_in(at="127.0.0.1", X_Forwarded_For=f"{AWAY}, {HOME}") == IN


@pytest.mark.parametrize("is_production", [False, True])
def test_what_a_visitor_says_of_their_address_counts_for_nothing(
    owner: User, settings: Any, *, is_production: bool
) -> None:
    settings.SHOP_PRODUCTION = is_production
    for n in range(10):
        sign_in(password="wrong", at=AWAY, X_Forwarded_For=f"192.0.2.{n}")
    assert sign_in(at=AWAY, X_Forwarded_For="192.0.2.99") == TOO_MANY


def test_what_was_counted_is_kept_and_what_came_while_closed_is_not(owner: User) -> None:
    fail(12)
    kept: list[Any] = list(
        AccessEvent.objects.order_by("pk").values_list("kind", "person", "by", "address")
    )
    assert kept == [
        *[("sign_in_failed", owner.pk, None, HOME)] * 10,
        ("locked_out", owner.pk, None, HOME),
    ]


def test_a_password_typed_as_a_name_is_kept_nowhere_in_our_tables(owner: User) -> None:
    fail(1, "my secret 99")
    event = AccessEvent.objects.get()
    assert (event.kind, event.person) == ("sign_in_failed", None)


def test_a_name_typed_with_blanks_and_capitals_is_known(owner: User) -> None:
    fail(1, " OLGA ")
    assert AccessEvent.objects.get().person == owner


def test_signing_in_and_out_is_kept(owner: User) -> None:
    client = Client(REMOTE_ADDR=HOME)
    client.post("/sign-in/", {"username": "olga", "password": PASSWORD})
    client.post("/sign-out/")
    kept = AccessEvent.objects.order_by("pk").values_list("kind", "person", "by", "address")
    assert list(kept) == [
        ("signed_in", owner.pk, owner.pk, HOME),
        ("signed_out", owner.pk, owner.pk, HOME),
    ]
