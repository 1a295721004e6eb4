"""The page of what to order today."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar
from urllib.parse import quote

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import path
from django.utils.html import format_html, format_html_join

from batches.planning.api.suggested import SuggestedOrdersDoor
from shopfloor.doors import PageDoor
from shopfloor.doors.once import KEY_FIELD
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import ask, may, tell
from shopfloor.screens.cells import amount

_SUGGESTED = "planning/suggested-orders/"
_AMOUNTS = ("position", "reorder_point", "pack")


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
        links = format_html_join(
            ", ",
            '<a href="/supplier-orders/{}/">{}</a>',
            ((quote(order["code"]), order["code"]) for order in ordered["orders"]),
        )
        said = format_html("Ordered: {}. Each is printed or sent as a sheet from its page.", links)
        messages.success(request, said)
        return HttpResponseRedirect("/supplier-orders/")

    def _shown(self, typed: QueryDict, refused: ShopError | None = None) -> HttpResponse:
        soon_days = self.request.GET.get("soon_days", "")
        orders = ask(self.request, _SUGGESTED, soon_days=soon_days)["orders"]
        wrong = {} if refused is None else dict(_blamed(typed, refused))
        for order in orders:
            for line in order["lines"]:
                line.update(_as_typed(order["supplier"], line, typed))
                line |= {f"{name}_text": amount(line[name]) for name in _AMOUNTS}
                line["wrong"] = wrong.get(line["tick"], ())
        return self.page(
            "batches/suggested_orders.html",
            {
                "orders": orders,
                "soon_days": soon_days,
                "note": typed.get("note", ""),
                "key": typed.get(KEY_FIELD, ""),
                "may_order": may(self.request, "POST", _SUGGESTED),
                "has_field_problems": bool(wrong),
                "problem": None if refused is None else problem_of(refused),
                "nothing": _of_all(refused),
            },
            status=200 if refused is None else refused.status,
        )


def _of_all(refused: ShopError | None) -> list[str]:
    """What is wrong with the lines together: that there are none."""
    fields = refused.facts.get("fields") if refused else None
    said = fields.get("lines") if isinstance(fields, Mapping) else None
    return list(said) if isinstance(said, list | tuple) else []


def _as_typed(supplier: str, line: Mapping[str, Any], typed: QueryDict) -> dict[str, Any]:
    """What a line's inputs are called, and what stands in them."""
    name = f"{supplier}/{line['item']}"
    return {
        "tick": name,
        "is_ticked": name in typed.getlist("tick") if typed else line["is_due"],
        "packs": typed.get(f"packs/{name}", line["packs"]),
    }


def _blamed(form: QueryDict, refused: ShopError) -> Iterator[tuple[str, list[str]]]:
    """What is wrong with the packs of a ticked line: the API names lines by their place."""
    fields = refused.facts.get("fields")
    lines = fields.get("lines") if isinstance(fields, Mapping) else None
    if isinstance(lines, Mapping):
        for at, name in enumerate(form.getlist("tick")):
            if said := lines.get(str(at), {}).get("packs"):
                yield name, said


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
