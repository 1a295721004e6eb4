"""Every page in a real browser: usable by everybody, in light and dark, at every width."""

from __future__ import annotations

from http import HTTPStatus

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

WIDTHS = (1440, 800, 360)
SIGN_IN = "/sign-in/"
# What is folded away is looked at too.
UNFOLD = "document.querySelectorAll('details').forEach((each) => { each.open = true; })"
IS_WHOLE = "document.doctype !== null"
IS_WIDE = "document.documentElement.scrollWidth > window.innerWidth"
# What stands around every page is looked at with the first, and nothing but colors changes in the
# dark.
AROUND = {"exclude": [["header.top"], ["nav.ways"], ["footer.foot"]]}
COLORS = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}
CHECK = """([context, rules]) => axe.run(
  context || document, { resultTypes: ["violations"], preload: false, ...rules }
).then((found) => found.violations.map((each) =>
  each.id + " at " + each.nodes.slice(0, 3).map((node) => node.target.join(" ")).join("; ")))"""


def test_every_page_is_accessible_and_fits_every_width(page: Page, live_server: LiveServer) -> None:
    owner = fill_shop()
    page.set_default_timeout(WAIT)
    page.add_init_script(Axe().axe_script)
    wrong = [(SIGN_IN, each) for each in looked_at(page, live_server.url + SIGN_IN, None)]
    sign_in(page.context, live_server.url, owner)
    for at, address in enumerate(pages(browse(owner))):
        found = looked_at(page, live_server.url + address, AROUND if at else None)
        wrong += [(address, each) for each in found]
    assert wrong == []


def looked_at(page: Page, url: str, context: object) -> list[str]:
    """What is wrong with a page."""
    answer = page.goto(url)
    assert answer is not None
    if answer.status != HTTPStatus.OK:
        return [f"answered {answer.status}"]
    if not page.evaluate(IS_WHOLE):
        return []  # a part, looked at on its page
    if page.locator("[hx-trigger*=load]").count():
        page.wait_for_load_state("networkidle")
    page.evaluate(UNFOLD)
    wrong: list[str] = []
    for scheme, rules in (("light", {}), ("dark", COLORS)):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        found: list[str] = page.evaluate(CHECK, [context, rules])
        wrong += [f"{scheme}: {each}" for each in found]
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        if page.evaluate(IS_WIDE):
            wrong.append(f"wider than {width} px")
    return wrong
