"""Doors that answer with a list: filtered, searched, ordered, paged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from django_filters import FilterSet
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.filters import OrderingFilter, SearchFilter
from rest_framework.generics import GenericAPIView
from rest_framework.mixins import ListModelMixin
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from shopfloor.doors.door import Door
from shopfloor.errors import InvalidInputError

PAGE_SIZE = 50
PAGE_SIZE_MAX = 200


class OrderingUnknownError(InvalidInputError):
    """Rows cannot be ordered by that."""

    code = "ordering_unknown"


class Pages(PageNumberPagination):
    """`?page=2&page_size=50`; a larger page than `PAGE_SIZE_MAX` is cut to it."""

    page_size = PAGE_SIZE
    page_size_query_param = "page_size"
    page_size_query_description = f"Rows a page; at most {PAGE_SIZE_MAX}, more is cut to that."
    max_page_size = PAGE_SIZE_MAX

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """What the description says of a page; the first and the last have one neighbor only."""
        described: dict[str, Any] = super().get_paginated_response_schema(schema)
        for name in ("next", "previous"):
            described["properties"][name] = {"type": ["string", "null"], "format": "uri"}
        return described


class Search(SearchFilter):
    """`?search=`, where the door has `search_fields`."""

    def get_schema_operation_parameters(self, view: APIView) -> list[dict[str, Any]]:
        """What the description says of it."""
        if not getattr(view, "search_fields", ()):
            return []
        return super().get_schema_operation_parameters(view)


class SteadyOrder(OrderingFilter):
    """`?ordering=-due_on,code`; the row id breaks ties, so that no row is on two pages or none."""

    def filter_queryset(
        self, request: Request, queryset: QuerySet[Any], view: APIView
    ) -> QuerySet[Any]:
        """The queryset in order."""
        ordering = [*(self.get_ordering(request, queryset, view) or queryset.query.order_by), "pk"]
        return queryset.order_by(*ordering)

    def get_schema_operation_parameters(self, view: APIView) -> list[dict[str, Any]]:
        """What the description says of it."""
        fields = getattr(view, "ordering_fields", ())
        if not fields:
            return []
        self.ordering_description = f"{', '.join(fields)}; a minus before one turns it round."
        return super().get_schema_operation_parameters(view)

    def remove_invalid_fields(
        self, queryset: QuerySet[Any], fields: Iterable[str], view: APIView, request: Request
    ) -> list[str]:
        """The fields asked for.

        Raises:
            OrderingUnknownError: one of them is not among the door's `ordering_fields`.
        """
        valid = super().remove_invalid_fields(queryset, fields, view, request)
        unknown = [name for name in fields if name not in valid]
        if unknown:
            known = list(getattr(view, "ordering_fields", ()))
            raise OrderingUnknownError(
                f"Rows cannot be ordered by {unknown[0][:40]}. Use: {', '.join(known)}.",
                unknown=unknown,
                known=known,
            )
        return list(valid)


class ListDoor(Door, ListModelMixin, GenericAPIView[Any]):
    """GET answers `{"count", "next", "previous", "results"}`.

    A subclass declares `gives = {"GET": RowSerializer}` and `get_queryset`, which calls a selector.

    Attributes:
        filterset_class: Filters, from the room's `filters.py`.
        search_fields: Columns `?search=` looks into.
        ordering_fields: Columns `?ordering=` may name.
        ordering: The order when none is asked for.
    """

    filterset_class: ClassVar[type[FilterSet] | None] = None
    search_fields: ClassVar[Sequence[str]] = ()
    ordering_fields: ClassVar[Sequence[str]] = ()
    ordering: ClassVar[Sequence[str]] = ()
    pagination_class = Pages
    filter_backends = [DjangoFilterBackend, Search, SteadyOrder]

    def get_queryset(self) -> QuerySet[Any]:
        """What the selector answers, not yet filtered."""
        raise NotImplementedError

    def get_serializer_class(self) -> Any:
        """The shape of a row."""
        return self.given("GET")[1]

    def rows(self, page: Sequence[Any]) -> Sequence[Mapping[str, Any]]:
        """One page's rows as JSON. Override to answer rows without a serializer."""
        shape = self.given("GET")[1]
        assert shape is not None
        rows: list[Mapping[str, Any]] = shape(page, many=True).data
        return rows

    def get(self, request: Request, **address: Any) -> Response:
        """List them."""
        found = self.filter_queryset(self.get_queryset())
        page = self.paginate_queryset(found)
        assert page is not None
        return self.get_paginated_response(self.rows(page))

    def known_parameters(self) -> Sequence[str]:
        """Filters, search, ordering and page, as far as the door has them."""
        if self.request.method not in {"GET", "HEAD"}:
            return ()
        filters = _filter_parameters(self.filterset_class) if self.filterset_class else []
        search = ["search"] if self.search_fields else []
        ordering = ["ordering"] if self.ordering_fields else []
        return [*filters, *search, *ordering, "page", "page_size"]


def _filter_parameters(filterset_class: type[FilterSet]) -> list[str]:
    """Query parameters of a filter set; a range has two (`made_at_after`, `made_at_before`)."""
    names = []
    filters: dict[str, Any] = vars(filterset_class)["base_filters"]
    for name, item in filters.items():
        suffixes = getattr(item.field.widget, "suffixes", None)
        names += [f"{name}_{suffix}" for suffix in suffixes] if suffixes else [name]
    return names
