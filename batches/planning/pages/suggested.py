"""The page of what to order today."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import path

from batches.planning.api.suggested import SuggestedOrdersDoor
from shopfloor.doors import PageDoor
from shopfloor.doors.once import KEY_FIELD
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import ask, may, tell

_SUGGESTED = "planning/suggested-orders/"


class SuggestedOrdersPage(PageDoor):
    """What to order today, by supplier: tick, change the packs, order all of it in one step."""

    roles: ClassVar = SuggestedOrdersDoor.roles

    def get(self, request: HttpRequest) -> HttpResponse:
        """What is suggested, all of it that is due ticked."""
        return self._shown(QueryDict())

    def post(self, request: HttpRequest) -> HttpResponse:
        """Order what is ticked."""
        lines = list(_ticked(request.POST))
        body = {"note": request.POST.get("note", ""), "lines": lines}
        try:
            ordered = tell(request, _SUGGESTED, body, key=request.POST.get(KEY_FIELD, ""))
        except ShopError as refused:
            return self._shown(request.POST, refused)
        codes = ", ".join(order["code"] for order in ordered["orders"])
        messages.success(request, f"Ordered: {codes}. Print them or send them as sheets.")
        return HttpResponseRedirect("/supplier-orders/")

    def _shown(self, typed: QueryDict, refused: ShopError | None = None) -> HttpResponse:
        soon_days = self.request.GET.get("soon_days", "")
        orders = ask(self.request, _SUGGESTED, soon_days=soon_days)["orders"]
        for order in orders:
            for line in order["lines"]:
                line.update(_as_typed(order["supplier"], line, typed))
        return self.page(
            "batches/suggested_orders.html",
            {
                "orders": orders,
                "soon_days": soon_days,
                "note": typed.get("note", ""),
                "key": typed.get(KEY_FIELD, ""),
                "may_order": may(self.request, "POST", _SUGGESTED),
                "problem": None if refused is None else problem_of(refused),
            },
            status=200 if refused is None else refused.status,
        )


def _as_typed(supplier: str, line: Mapping[str, Any], typed: QueryDict) -> dict[str, Any]:
    """What a line's inputs are called, and what stands in them."""
    name = f"{supplier}/{line['item']}"
    return {
        "tick": name,
        "is_ticked": name in typed.getlist("tick") if typed else line["is_due"],
        "packs": typed.get(f"packs/{name}", line["packs"]),
    }


def _ticked(form: QueryDict) -> Iterator[dict[str, Any]]:
    """The lines ticked, as the API takes them; what is no number goes on for it to refuse."""
    for name in form.getlist("tick"):
        supplier, _, item = name.partition("/")
        packs = form.get(f"packs/{name}", "").strip()
        yield {
            "supplier": supplier,
            "item": item,
            "packs": int(packs) if packs.isdecimal() and packs.isascii() else packs,
        }


urlpatterns = [path(_SUGGESTED, SuggestedOrdersPage.as_view())]
