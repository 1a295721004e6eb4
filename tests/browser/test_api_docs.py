"""The browsable description of the API, offline and under our own content policy."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from shopfloor.operations import create_first_owner

PASSWORD = "seven-wet-otters"


@pytest.mark.django_db(transaction=True)
def test_the_description_is_drawn_after_signing_in_and_asks_nobody_else(
    page: Page, live_server: LiveServer
) -> None:
    create_first_owner(username="robin", display_name="Robin", password=PASSWORD, at=timezone.now())
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))

    page.goto(f"{live_server.url}/api/docs/")
    page.fill("input[name=username]", "robin")
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")

    expect(page.locator(".opblock-tag").first).to_be_visible(timeout=30_000)
    assert complaints == []
    ours = (live_server.url, "data:")
    assert [url for url in asked if not url.startswith(ours)] == []
