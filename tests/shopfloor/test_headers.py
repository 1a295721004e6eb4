"""What every answer says to the browser, and how much a request may send."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from rest_framework.test import APIClient

from shopfloor.access import every_address
from shopfloor.models import User

KEY = {"Idempotency-Key": "k"}
PAGES = sorted(
    address
    for address, view in every_address()
    if "{" not in address and not address.startswith("/api/v1/") and hasattr(view, "get")
)


def signed_in(owner: User) -> Client:
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


def test_there_are_pages_and_one_of_them_is_the_first() -> None:
    assert {"/", "/me/", "/api/docs/"} <= set(PAGES)


@pytest.mark.parametrize("address", ["/", "/api/v1/", "/health/", "/nowhere/", "/api/v1/nowhere/"])
def test_an_answer_is_kept_guessed_at_and_shared_by_no_browser(owner: User, address: str) -> None:
    answer = signed_in(owner).get(address)
    said = {name: answer[name] for name in answer.headers}
    assert "no-store" in said["Cache-Control"]
    assert said["X-Content-Type-Options"] == "nosniff"
    assert said["Referrer-Policy"] == "same-origin"
    assert said["Cross-Origin-Opener-Policy"] == "same-origin"
    assert said["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in said["Permissions-Policy"]
    assert said["X-Frame-Options"] == "DENY"


def test_a_static_file_may_be_stored(db: None) -> None:
    answer = Client().get("/static/shopfloor/shop.css")
    assert answer.status_code == 200
    assert "no-store" not in answer["Cache-Control"]


@pytest.mark.parametrize("address", PAGES)
def test_no_page_allows_what_stands_in_line_but_the_style_of_the_description(
    owner: User, address: str
) -> None:
    policy = dict(
        part.strip().split(" ", 1)
        for part in signed_in(owner).get(address)["Content-Security-Policy"].split(";")
    )
    may_style = address == "/api/docs/"
    assert policy.pop("style-src") == ("'self' 'unsafe-inline'" if may_style else "'self'")
    assert policy.pop("img-src") == ("'self' data:" if may_style else "'self'")
    assert set(policy.values()) == {"'self'", "'none'"}
    assert (policy["default-src"], policy["script-src"]) == ("'none'", "'self'")


def test_a_body_of_fifty_megabytes_is_refused_by_what_it_says_of_itself(
    owner_api: APIClient, settings: Any
) -> None:
    answer = owner_api.generic(
        "POST", "/api/v1/people/", "{}", headers=KEY, CONTENT_LENGTH="50000000"
    )
    assert (answer.status_code, answer["Content-Type"]) == (413, "application/problem+json")
    assert answer.json()["code"] == "body_too_big"
    assert answer.json()["facts"] == {
        "bytes": 50_000_000,
        "bytes_max": settings.DATA_UPLOAD_MAX_MEMORY_SIZE,
    }


def test_a_form_too_big_is_refused_before_the_check_for_forged_ones_reads_it(db: None) -> None:
    client = Client(enforce_csrf_checks=True)
    answer = client.generic("POST", "/sign-in/", b"", CONTENT_LENGTH="50000000")
    assert answer.status_code == 413


def test_the_largest_body_passes_and_one_byte_more_does_not(
    owner_api: APIClient, settings: Any
) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 100
    body = '{"role": "king"}'
    fits = owner_api.generic(
        "POST", "/api/v1/people/x/role/", body.ljust(100), "application/json", headers=KEY
    )
    over = owner_api.generic(
        "POST", "/api/v1/people/x/role/", body.ljust(101), "application/json", headers=KEY
    )
    assert (fits.status_code, over.status_code) == (422, 413)
