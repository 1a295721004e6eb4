"""Where a scan leads, and links on papers of the shop; what fits some words."""

from __future__ import annotations

from typing import Any, ClassVar
from urllib.parse import quote, urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.urls import Resolver404, path, resolve
from django.utils import timezone

from batches.labels import selectors
from shopfloor.codes.scan import SEPARATOR_SIGN
from shopfloor.days import shop_day
from shopfloor.doors import ANYONE, PageDoor
from shopfloor.doors.body import refuse_unclear
from shopfloor.doors.lists import SEARCH_LENGTH_MAX
from shopfloor.errors import NotFoundError, ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import ask, may
from shopfloor.screens.within import ROOT

_SERIAL = "/21/"  # behind a lot in a link may stand the number of one article


class SeeOther(HttpResponseRedirect):
    """Found elsewhere, to be got there (RFC 9110, section 15.4.4)."""

    status_code = 303


class ScanPage(PageDoor):
    """A scan goes straight to the page of what it names; words, to a list of what fits."""

    roles: ClassVar = {"GET": ANYONE}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Send on; without a code the field to scan into."""
        refuse_unclear(request.GET)
        code = request.GET.get("code", "")
        if not code.strip():
            return self.page("batches/scan.html", {})
        try:
            found = _found(code)
        except ShopError as refused:  # on this page, whose field is ready for the next scan
            return self._unknown(code, refused)
        if address := self._leads_to(found):
            return SeeOther(address)
        return self.page("batches/scan.html", {"found": found})

    def _leads_to(self, found: selectors.ScanTarget) -> str:
        """The page of what was found; of a supplier's label that is not here, its receipt."""
        new = found.delivery if found.kind == "item" else None
        if new is not None and may(self.request, "POST", "receipts/"):
            asked = {"lines.0.scan": new.scan, "supplier": new.supplier or ""}
            return f"/receipts/new/?{urlencode({k: v for k, v in asked.items() if v})}"
        return page_of(found.address)

    def _unknown(self, text: str, refused: ShopError) -> HttpResponse:
        """What fits it as words; never straight to one: a slip must not look like its neighbor."""
        hits = []
        if isinstance(refused, NotFoundError) and len(text) <= SEARCH_LENGTH_MAX:
            asked = ask(self.request, "search/", words=text)["found"]
            hits = [{**hit, "page": page_of(hit["address"])} for hit in asked]
        context = {"problem": problem_of(refused), "hits": hits, "text": text}
        return self.page("batches/scan.html", context, status=200 if hits else refused.status)


def page_of(address: str) -> str:
    """The page of an address of the API; empty if there is none."""
    page = address.removeprefix(ROOT.rstrip("/"))
    try:
        resolve(page)
    except Resolver404:
        return ""
    return page


class LinkPage(PageDoor):
    """A link on a paper: people are sent to the page, programs to the scan door."""

    roles: ClassVar = {"GET": ANYONE}

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Send a program on, unasked who it is: the door it is sent to asks."""
        if request.method in {"GET", "HEAD"} and "Authorization" in request.headers:
            return SeeOther(f"/api/v1/scan/?{urlencode({'code': _link(request, **kwargs)})}")
        return super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest, **kwargs: str) -> HttpResponse:
        """Refuse what leads nowhere here and now, else send on."""
        link = _link(request, **kwargs)
        _found(link)
        return SeeOther(f"/scan/?{urlencode({'code': link})}")


def _found(code: str) -> selectors.ScanTarget:
    return selectors.scan_target(code, on=shop_day(timezone.now()))


def _link(request: HttpRequest, *, key: str, number: str, lot: str = "") -> str:
    """The address as a label has it. A slash within a lot comes decoded, so it is encoded again."""
    lot, is_serial, serial = lot.partition(_SERIAL)
    tail = f"/10/{quote(lot, safe='')}" if lot else ""
    if is_serial:
        tail += f"{_SERIAL}{quote(serial, safe='')}"
    query = request.META.get("QUERY_STRING", "")
    host = f"{request.scheme}://{request.get_host()}"
    link = f"{host}/{key}/{quote(number, safe='')}{tail}" + (f"?{query}" if query else "")
    return link.replace("\x1d", SEPARATOR_SIGN)


urlpatterns = [
    path("scan/", ScanPage.as_view(), name="scan"),
    path("s/<str:number>", LinkPage.as_view(), {"key": "s"}),
    path("00/<str:number>", LinkPage.as_view(), {"key": "00"}),
    path("01/<str:number>", LinkPage.as_view(), {"key": "01"}),
    path("01/<str:number>/10/<path:lot>", LinkPage.as_view(), {"key": "01"}),
]
