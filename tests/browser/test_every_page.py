"""Every page in a real browser: usable by everybody, in light and dark, at every width."""

from __future__ import annotations

from http import HTTPStatus
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.browser.test_bench import WAIT, sign_in
from tests.pages import browse
from tests.walking import fill_shop, pages

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.only_on("sqlite"),  # what pages look like hangs on no database
]

WIDTHS = (360, 800, 1440)
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
SIGN_IN = "/sign-in/"
# What is folded away is looked at too.
UNFOLD = "document.querySelectorAll('details').forEach((each) => { each.open = true; })"
IS_WHOLE = "document.doctype !== null"
IS_WIDE = "document.documentElement.scrollWidth > window.innerWidth"
# Colors come from the style sheet, so a page is looked at for them where something on it is new.
KINDS = """[...new Set([...document.querySelectorAll("body *")].map(
  (each) => each.tagName + "." + each.getAttribute("class")))]"""
CONTRAST = "color-contrast"
COLORS = {"runOnly": {"type": "rule", "values": [CONTRAST]}}
REST = {"rules": {CONTRAST: {"enabled": False}}}
# What stands around every page is looked at with the first.
AROUND = {"exclude": [["header.top"], ["nav.ways"], ["footer.foot"]]}
CHECK = """([context, rules]) => axe.run(
  context || document, { resultTypes: ["violations"], preload: false, ...rules }
).then((found) => found.violations.map((each) =>
  each.id + " at " + each.nodes.slice(0, 3).map((node) => node.target.join(" ")).join("; ")))"""


def test_every_page_is_accessible_and_fits_every_width(page: Page, live_server: LiveServer) -> None:
    owner = fill_shop()
    page.set_default_timeout(WAIT)
    page.add_init_script(Axe().axe_script)
    known: set[str] = set()
    wrong = look_at(page, live_server.url, SIGN_IN, known)
    sign_in(page.context, live_server.url, owner)
    wrong += look_at(page, live_server.url, "/", known)
    for address in pages(browse(owner)):
        wrong += look_at(page, live_server.url, address, known, AROUND)
    assert wrong == []


def look_at(
    page: Page, url: str, address: str, known: set[str], context: object = None
) -> list[tuple[str, str]]:
    """What is wrong with a page; adds to the kinds of elements that are known."""
    answer = page.goto(url + address)
    assert answer is not None
    if answer.status != HTTPStatus.OK:
        return [(address, f"answered {answer.status}")]
    if not page.evaluate(IS_WHOLE):
        return []  # a part, looked at on its page
    if page.locator("[hx-trigger*=load]").count():
        page.wait_for_load_state("networkidle")
    page.evaluate(UNFOLD)
    wrong = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        if page.evaluate(IS_WIDE):
            wrong.append(f"wider than {width} px")
    wrong += page.evaluate(CHECK, [context, REST])
    kinds = set(page.evaluate(KINDS))
    if not kinds <= known:
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            wrong += [f"{scheme}: {each}" for each in page.evaluate(CHECK, [context, COLORS])]
    known |= kinds
    return [(address, each) for each in wrong]
