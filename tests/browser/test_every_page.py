"""Every page in a real browser: usable by everybody, in light and dark, at every width."""

from __future__ import annotations

from http import HTTPStatus

import pytest
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from tests.browser.looking import Looker
from tests.browser.test_bench import WAIT, sign_in
from tests.pages import browse
from tests.walking import fill_shop, pages

IS_WHOLE = "document.doctype !== null"
# What stands around every page is looked at with the first.
AROUND = {"exclude": [["header.top"], ["nav.ways"], ["footer.foot"]]}


@pytest.mark.django_db(transaction=True)
def test_every_page_is_accessible_and_fits_every_width(page: Page, live_server: LiveServer) -> None:
    owner = fill_shop()
    page.set_default_timeout(WAIT)
    looker = Looker(page)
    page.goto(live_server.url + "/sign-in/")
    wrong = {"/sign-in/": looker.wrong()}
    sign_in(page.context, live_server.url, owner)
    page.goto(live_server.url)
    wrong["/"] = looker.wrong()
    for address in pages(browse(owner)):
        answer = page.goto(live_server.url + address)
        assert answer is not None
        assert answer.status == HTTPStatus.OK, address
        if page.evaluate(IS_WHOLE):  # a part is looked at on its page
            wrong[address] = looker.wrong(AROUND)
    assert {address: found for address, found in wrong.items() if found} == {}
