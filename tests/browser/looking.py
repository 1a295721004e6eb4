"""Whether everybody can use a page, in light and dark, at every width."""

from __future__ import annotations

from typing import Final, Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

WIDTHS: Final = (360, 800, 1440)
SCHEMES: Final[tuple[Literal["light", "dark"], ...]] = ("light", "dark")
# What is folded away is looked at too.
UNFOLD: Final = "document.querySelectorAll('details').forEach((each) => { each.open = true; })"
IS_WIDE: Final = "document.documentElement.scrollWidth > window.innerWidth"
# Colors come from the style sheet, so a page is looked at for them where something on it is new.
KINDS: Final = """[...new Set([...document.querySelectorAll("body *")].map(
  (each) => each.tagName + "." + each.getAttribute("class")))]"""
CHECK: Final = """([context, rules]) => axe.run(
  context || document, { resultTypes: ["violations"], preload: false, ...rules }
).then((found) => found.violations.map((each) =>
  each.id + " at " + each.nodes.slice(0, 3).map((node) => node.target.join(" ")).join("; ")))"""
CONTRAST: Final = "color-contrast"
COLORS: Final = {"runOnly": {"type": "rule", "values": [CONTRAST]}}
REST: Final = {"rules": {CONTRAST: {"enabled": False}}}


class Looker:
    """Looks at pages of one browser, and knows what it has seen.

    Args:
        page: Where they are opened. Make the looker before.
    """

    def __init__(self, page: Page) -> None:
        self._page = page
        self._known: set[str] = set()
        page.add_init_script(Axe().axe_script)

    def wrong(self, context: object = None) -> list[str]:
        """What is wrong with the page that is open.

        Args:
            context: The part that axe looks at, as axe has it; all of it where left out.
        """
        page = self._page
        if page.locator("[hx-trigger*=load]").count():
            page.wait_for_load_state("networkidle")
        page.evaluate(UNFOLD)
        found = []
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            if page.evaluate(IS_WIDE):
                found.append(f"wider than {width} px")
        found += page.evaluate(CHECK, [context, REST])
        kinds = set(page.evaluate(KINDS))
        if not kinds <= self._known:
            for scheme in SCHEMES:
                page.emulate_media(color_scheme=scheme)
                told = page.evaluate(CHECK, [context, COLORS])
                found += [f"{scheme}: {each}" for each in told]
        self._known |= kinds
        return found
