"""The first page: what needs a person now, and, in a new shop, how to begin."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils import timezone

from batches.attention.selectors import MOST, first_steps, overview
from shopfloor import demo
from shopfloor.doors import ANYONE, OWNERS, PageDoor
from shopfloor.screens import ask


class FirstPage(PageDoor):
    """The shop today. What is to be ordered and counted comes after: it takes longest to find."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """The page."""
        shop = overview(now=timezone.now())
        steps = first_steps(person_id=self.person.pk)
        is_new = not all(step.is_done for step in steps if step.is_needed)
        is_owner = self.person.role in OWNERS
        return self.page(
            "batches/first.html",
            {
                "shop": shop,
                "currency": settings.SHOP_CURRENCY,
                "harm": [group for group in shop.harm if group.lines],
                "work": [group for group in shop.work if group.lines],
                "fine": [
                    group.none
                    for group in (*shop.harm, *shop.work)
                    if not group.lines and group.none
                ],
                "steps": steps if is_new else [],
                "may_fill_demo": is_new and is_owner and not demo.why_not(),
                "can_leave": is_owner and demo.can_leave(),
                "has_work": is_owner and demo.can_leave() and demo.has_work(),
            },
        )


class DueTodayPage(PageDoor):
    """The part of the first page that says what is to be ordered."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """It alone, without the frame."""
        due = ask(request, "reorder/", is_due="true", page_size=MOST)
        return self.page("batches/due.html", {"due": due})


class CountsTodayPage(PageDoor):
    """The part of the first page that says what is to be counted."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """It alone, without the frame."""
        due = ask(request, "counting/", is_due="true", page_size=MOST)
        return self.page("batches/counts_due.html", {"due": due})


urlpatterns = [
    path("", FirstPage.as_view(), name="first"),
    path("today/orders/", DueTodayPage.as_view()),
    path("today/counts/", CountsTodayPage.as_view()),
]
