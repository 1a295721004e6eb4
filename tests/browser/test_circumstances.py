"""Circumstances at the bench in a real browser."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from batches.runs.models import EntryFactor
from shopfloor.models import User
from tests.browser.test_bench import ben, count, hangers, key, running, saved, shop, tablet, tap

__all__ = ["ben", "shop", "tablet", "tap"]  # fixtures of the bench

pytestmark = pytest.mark.django_db(transaction=True)


def test_circumstances_are_noted_in_a_tap_and_hold_for_the_rest_of_the_day(
    shop: User, tablet: Page, tap: Any, live_server: LiveServer
) -> None:
    hangers(shop, "HANG-1")
    batch = running(shop, "BODY-70")
    tablet.goto(f"{live_server.url}/bench/GLUING/{batch.code}/")
    tap("text=Note what could matter")
    tablet.get_by_label("What", exact=True).fill("humidity")
    tap(key("5"), "#save")
    expect(tablet.locator("[data-problem-of=factors]")).to_contain_text("Say how humidity is")
    tablet.get_by_label("How it is").fill("61 %")
    tap("#save")
    saved(tablet)
    chip = tablet.locator("[data-factor=humidity] [data-value='61 %']")
    expect(chip).to_have_attribute("aria-pressed", "true")
    tap(key("7"), "#save")
    expect(tablet.locator("#numbers")).to_contain_text("12 of 100 made")
    tablet.get_by_role("textbox", name="humidity").fill("58 %")
    tap(count("good"), key("9"), "#save")
    expect(tablet.locator("#numbers")).to_contain_text("21 of 100 made")
    noted = EntryFactor.objects.order_by("entry").values_list("entry__good_base", "name", "value")
    assert list(noted) == [
        (5, "humidity", "61 %"),
        (7, "humidity", "61 %"),
        (9, "humidity", "58 %"),
    ]
