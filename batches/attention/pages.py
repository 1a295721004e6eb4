"""The first page: what stands where, and where programs find the rest."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.utils import timezone

from batches.attention.selectors import overview
from shopfloor.doors import ANYONE, PageDoor


class FirstPage(PageDoor):
    """The shop today."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """The page."""
        return self.page(
            "batches/first.html",
            {"shop": overview(now=timezone.now()), "currency": settings.SHOP_CURRENCY},
        )


urlpatterns = [path("", FirstPage.as_view(), name="first")]
