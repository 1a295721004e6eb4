"""The page of the demo: fill it and look at it, and leave it again."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path
from django.utils import timezone

from shopfloor import demo
from shopfloor.doors import OWNERS, PageDoor


class DemoPage(PageDoor):
    """What the demo is, and how far it is filled."""

    roles: ClassVar = {"GET": OWNERS, "POST": OWNERS}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Show it."""
        return self.page("shopfloor/demo.html", self._context())

    def post(self, request: HttpRequest) -> HttpResponse:
        """Begin to fill it; when it is full the program starts anew with it."""
        demo.fill(by=self.person)
        return HttpResponseRedirect("/demo/")

    def _context(self) -> dict[str, object]:
        is_filling = demo.SWITCH.filling is not None
        return {
            "is_filling": is_filling,
            "trouble": demo.SWITCH.trouble,
            "why_not": "" if is_filling else demo.why_not(),
            "can_leave": demo.can_leave(),
            "has_work": settings.SHOP_IS_DEMO and demo.has_work(),
        }


class LeaveDemoPage(PageDoor):
    """The way back from the demo."""

    roles: ClassVar = {"POST": OWNERS}

    def post(self, request: HttpRequest) -> HttpResponse:
        """Leave it; the program starts anew with the own shop."""
        demo.leave(by=self.person, at=timezone.now())
        return self.page("shopfloor/demo.html", {"is_leaving": True})


urlpatterns = [
    path("demo/", DemoPage.as_view()),
    path("demo/leave/", LeaveDemoPage.as_view()),
]
