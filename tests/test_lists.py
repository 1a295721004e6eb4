"""Every list of the house refuses a filter it cannot read: a slip never answers all or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver
from django_filters import BooleanFilter, ChoiceFilter, DateFilter, DateFromToRangeFilter
from django_filters import IsoDateTimeFromToRangeFilter as MomentsFilter
from rest_framework.test import APIClient

from shopfloor.code_filter import CodeFilter
from shopfloor.doors import ListDoor
from shopfloor.models import User
from shopfloor.operations import create_first_owner


def lists(
    patterns: list[URLPattern | URLResolver], before: str = "/"
) -> Iterator[tuple[str, type[ListDoor]]]:
    """Address and door of every list."""
    for entry in patterns:
        address = before + str(entry.pattern)
        door: Any = getattr(getattr(entry, "callback", None), "cls", object)
        if isinstance(entry, URLResolver):
            yield from lists(entry.url_patterns, address)
        elif issubclass(door, ListDoor):
            yield address, door


LISTS = list(lists(get_resolver().url_patterns))


def needed(door: type[ListDoor]) -> dict[str, str]:
    """What a list must be told: days, all of them."""
    fields: dict[str, Any] = getattr(door.asks() if door.asks else None, "fields", {})
    return {name: "2026-04-01" for name, field in fields.items() if field.required}


NEEDED = {address: needed(door) for address, door in LISTS}
"""Parameters without which a list cannot be asked, by address."""


def filtered_by(*kinds: type[Any]) -> list[tuple[str, str]]:
    """Address and parameter of every filter of these kinds; a range has two."""
    return [
        (address, f"{name}{suffix}")
        for address, door in LISTS
        if door.filterset_class is not None
        for name, item in vars(door.filterset_class)["base_filters"].items()
        if isinstance(item, kinds)
        for suffix in (("_after", "_before") if "Range" in type(item).__name__ else ("",))
    ]


@pytest.fixture
def api(db: None) -> APIClient:
    create_first_owner(
        username="olga",
        display_name="Olga",
        password=None,
        at=datetime(2026, 3, 2, 15, 0, tzinfo=UTC),
    )
    client = APIClient()
    client.force_authenticate(User.objects.get(username="olga"))
    return client


def refused(api: APIClient, address: str, **query: str) -> set[str]:
    """Names of the parameters that are wrong."""
    answer = api.get(address, {**NEEDED[address], **query})
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid_input")
    return set(answer.json()["facts"]["fields"])


def test_there_is_something_to_look_at() -> None:
    assert len(LISTS) > 20
    assert len(filtered_by(BooleanFilter)) > 10
    assert len(filtered_by(MomentsFilter)) > 5
    assert len(filtered_by(DateFilter, DateFromToRangeFilter)) > 2
    assert len(filtered_by(CodeFilter)) > 25
    assert len(filtered_by(ChoiceFilter)) > 10


@pytest.mark.parametrize(("address", "name"), filtered_by(BooleanFilter))
def test_yes_or_no_is_read_and_nothing_else(api: APIClient, address: str, name: str) -> None:
    assert api.get(address, {name: "TRUE"}).status_code == 200
    assert refused(api, address, **{name: "maybe"}) == {name}
    assert refused(api, address, **{name: "2"}) == {name}


@pytest.mark.parametrize(("address", "name"), filtered_by(MomentsFilter))
def test_a_moment_no_database_can_take_is_refused(api: APIClient, address: str, name: str) -> None:
    assert api.get(address, {name: "2099-12-31T23:59:59-23:59"}).status_code == 200
    assert refused(api, address, **{name: "9999-12-31T23:59:59-23:59"}) == {name}
    assert refused(api, address, **{name: "0001-01-01T00:00:00+23:59"}) == {name}
    assert refused(api, address, **{name: "2026-03-02T12:00:00"}) == {name}


@pytest.mark.parametrize(("address", "name"), filtered_by(ChoiceFilter))
def test_a_choice_that_there_is_not_is_told_those_that_there_are(
    api: APIClient, address: str, name: str
) -> None:
    assert refused(api, address, **{name: "no such"}) == {name}
    told = api.get(address, {name: "no such"}).json()["facts"]["fields"][name][0]
    first = told.partition("Use one of: ")[2].partition(",")[0]
    assert api.get(address, {name: first}).status_code == 200


@pytest.mark.parametrize(("address", "name"), filtered_by(CodeFilter))
def test_a_code_that_nothing_has_is_refused(api: APIClient, address: str, name: str) -> None:
    assert refused(api, address, **{name: "no-such"}) == {name}
    assert refused(api, address, **{name: "no-such", "format": "csv"}) == {name}
    assert api.get(address, {name: ""}).status_code == 200


@pytest.mark.parametrize(("address", "name"), filtered_by(DateFilter, DateFromToRangeFilter))
def test_a_day_is_written_in_one_way(api: APIClient, address: str, name: str) -> None:
    assert api.get(address, {name: "2026-03-02"}).status_code == 200
    assert refused(api, address, **{name: "20260302"}) == {name}
    assert refused(api, address, **{name: "9999-12-31"}) == {name}


@pytest.mark.parametrize("address", [address for address, door in LISTS if door.search_fields])
def test_a_search_is_refused_when_it_is_too_long(api: APIClient, address: str) -> None:
    assert api.get(address, {"search": "a " * 50}).status_code == 200
    assert refused(api, address, search="a " * 50 + "a") == {"search"}


@pytest.mark.parametrize("address", [address for address, _ in LISTS])
def test_a_page_is_a_number_of_rows(api: APIClient, address: str) -> None:
    asked = NEEDED[address]
    assert api.get(address, {**asked, "page_size": "1"}).status_code == 200
    assert refused(api, address, page_size="0") == {"page_size"}
    assert refused(api, address, page_size="ten") == {"page_size"}
    assert api.get(address, {**asked, "page": "0"}).status_code == 404


@pytest.mark.parametrize("address", [address for address, _ in LISTS])
def test_a_parameter_stands_once_and_is_plain(api: APIClient, address: str) -> None:
    twice = api.get(f"{address}?page=1&page=1")
    assert (twice.status_code, set(twice.json()["facts"]["fields"])) == (422, {"page"})
    assert refused(api, address, page="1\x07") == {"page"}
