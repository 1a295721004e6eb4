"""Doors that answer with a list: filtered, searched, ordered; a page as JSON, or all as a sheet."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cache, lru_cache
from itertools import islice
from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet
from django.http import QueryDict
from django.http.response import HttpResponseBase
from django_filters import FilterSet
from django_filters.fields import DateRangeField, IsoDateTimeField, IsoDateTimeRangeField
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework import serializers
from rest_framework.filters import OrderingFilter, SearchFilter
from rest_framework.generics import GenericAPIView
from rest_framework.mixins import ListModelMixin
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.views import APIView

from shopfloor.code_filter import CodeFilter
from shopfloor.doors.body import one_of
from shopfloor.doors.door import Door
from shopfloor.doors.schema import ListSchema
from shopfloor.doors.sheets import FORMAT, asked_kind, sheet_answer
from shopfloor.errors import InvalidInputError
from shopfloor.fields import CODE_LENGTH_MAX, AtField, DayField, rfc3339
from shopfloor.snapshot import snapshot

PAGE_SIZE = 50
PAGE_SIZE_MAX = 200
PAGE_PARAMETERS = ("page", "page_size")
CHOICE_SHOWN = 40  # characters of one that there is not
CHUNK_ROWS = 500  # of a sheet, in memory at a time
SEARCH_LENGTH_MAX = 100  # every word is a condition more, and a database takes so many

_ROWS = re.compile(r"[1-9][0-9]*")


class OrderingUnknownError(InvalidInputError):
    """Rows cannot be ordered by that."""

    code = "ordering_unknown"


class Pages(PageNumberPagination):
    """`?page=2&page_size=50`; a larger page than `PAGE_SIZE_MAX` is cut to it."""

    page_size = PAGE_SIZE
    page_size_query_param = "page_size"
    page_size_query_description = f"Rows a page; at most {PAGE_SIZE_MAX}, more is cut to that."
    max_page_size = PAGE_SIZE_MAX
    invalid_page_message = "This list has no such page. Ask for an earlier one."

    def get_page_size(self, request: Request) -> int:
        """Rows a page.

        Raises:
            ValidationError: not a number of rows.
        """
        text = request.query_params.get(self.page_size_query_param)
        if text is None:
            return PAGE_SIZE
        if not _ROWS.fullmatch(text):
            raise serializers.ValidationError(
                {self.page_size_query_param: ["A whole number above zero."]}
            )
        return min(int(text[:9]), PAGE_SIZE_MAX)  # that many digits say enough

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """What the description says of a page; the first and the last have one neighbor only."""
        described: dict[str, Any] = super().get_paginated_response_schema(schema)
        for name in ("next", "previous"):
            described["properties"][name] = {"type": ["string", "null"], "format": "uri"}
        return described


class Filters(DjangoFilterBackend):
    """Filters that refuse what they cannot read.

    By themselves they take `?is_active=maybe` for nothing asked, and a moment beyond all years for
    one that the database can compare.
    """

    def get_filterset_kwargs(
        self, request: Request, queryset: QuerySet[Any], view: APIView
    ) -> dict[str, Any]:
        """What the filter set is made of.

        Raises:
            ValidationError: a parameter that cannot be read.
        """
        kwargs: dict[str, Any] = super().get_filterset_kwargs(request, queryset, view)
        filterset_class = self.get_filterset_class(view, queryset)
        assert filterset_class is not None
        return {**kwargs, "data": _as_read(filterset_class, request.query_params)}

    def get_filterset_class(
        self, view: APIView, queryset: QuerySet[Any] | None = None
    ) -> type[FilterSet] | None:
        """The door's filters, as far as this request asks for them: making a form takes long."""
        every: type[FilterSet] | None = super().get_filterset_class(view, queryset)
        is_described = getattr(view, "swagger_fake_view", False)
        if every is None or is_described or not isinstance(view, ListDoor):
            return every
        asked = view.request.query_params.keys()
        names = frozenset(
            name for parameter, name, _ in filter_parameters(every) if parameter in asked
        )
        return _narrowed(every, names) if names else None


@lru_cache(maxsize=512)
def _narrowed(every: type[FilterSet], names: frozenset[str]) -> type[FilterSet]:
    narrowed: Any = type(every.__name__, (every,), {})
    narrowed.base_filters = {name: narrowed.base_filters[name] for name in sorted(names)}
    return narrowed  # type: ignore[no-any-return]


# How texts are read that a filter's own field reads too kindly, by that field.
_READERS: Sequence[tuple[type[forms.Field], serializers.Field[Any, Any, Any, Any]]] = (
    (forms.NullBooleanField, serializers.BooleanField()),
    (IsoDateTimeRangeField, AtField()),
    (IsoDateTimeField, AtField()),
    (DateRangeField, DayField()),
    (forms.DateField, DayField()),
)


def _as_read(filterset_class: type[FilterSet], params: QueryDict) -> QueryDict:
    data = params.copy()
    wrong: dict[str, Any] = {}
    for name, _, field in filter_parameters(filterset_class):
        text = params.get(name)
        if not text:
            continue
        if isinstance(field, forms.ChoiceField) and not field.valid_value(text):
            wrong[name] = [f"“{text[:CHOICE_SHOWN]}” is not a choice. {_choices_of(field)}"]
        reader = next((reader for kind, reader in _READERS if isinstance(field, kind)), None)
        if reader is None:
            continue
        try:
            value = reader.run_validation(text)
        except serializers.ValidationError as error:
            wrong[name] = error.detail
        else:
            data[name] = _plain_text(value)
    if wrong:
        raise serializers.ValidationError(wrong)
    return data


def _choices_of(field: Any) -> str:
    return one_of(value for value, _ in field.choices)


def _plain_text(value: bool | date) -> str:  # noqa: FBT001 - one of the values that were read
    """As every filter's field reads it, and in UTC: PostgreSQL takes no offset of 23 hours."""
    return rfc3339(value) if isinstance(value, datetime) else str(value)


class Search(SearchFilter):
    """`?search=`, where the door has `search_fields`."""

    search_description = "Words, parts of words or codes; a row is found that has all of them."

    def get_search_terms(self, request: Request) -> list[str]:
        """The words as they stand: a quote or a comma is looked for like a letter.

        Raises:
            ValidationError: too many.
        """
        text = request.query_params.get(self.search_param, "")
        if len(text) > SEARCH_LENGTH_MAX:
            raise serializers.ValidationError(
                {self.search_param: [f"At most {SEARCH_LENGTH_MAX} characters."]}
            )
        return text.split()

    def get_schema_operation_parameters(self, view: APIView) -> list[dict[str, Any]]:
        """What the description says of it."""
        if not getattr(view, "search_fields", ()):
            return []
        described = super().get_schema_operation_parameters(view)
        for parameter in described:
            parameter["schema"]["maxLength"] = SEARCH_LENGTH_MAX
        return described


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
    """GET answers `{"count", "next", "previous", "results"}`, or every row as a sheet.

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
    filter_backends = [Filters, Search, SteadyOrder]
    schema = ListSchema()

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

    def listed(self) -> Any:
        """What is listed, in order: a queryset, or a sequence where rows are computed."""
        return self.filter_queryset(self.get_queryset())

    def paged(self) -> Any:
        """The same, to cut a page of."""
        return self.listed()

    def get(self, request: Request, **address: Any) -> HttpResponseBase:
        """List them: a page as JSON, or all of them as CSV or XLSX."""
        kind = asked_kind(request)
        if kind is None:
            page = self.paginate_queryset(self.paged())
            assert page is not None
            if not page:
                self.refuse_unknown_codes()
            return self.get_paginated_response(self.rows(page))
        _refuse_pages(request)
        shape = self.given("GET")[1]
        assert shape is not None
        self.refuse_unknown_codes()
        with snapshot():
            rows = self.sheet_rows(self.listed())
            return sheet_answer(kind, name=self.sheet_name(), shape=shape(), rows=rows)

    def refuse_unknown_codes(self) -> None:
        """Refuse a filter by a code that nothing has. One statement a code.

        A list that has rows need not ask.

        Raises:
            ValidationError: by parameter.
        """
        filters: Any = self.filterset_class
        if filters is None:
            return
        params = self.request.query_params
        wrong = {
            parameter: [f"Nothing has the code {params[parameter][:CODE_LENGTH_MAX]}. Check it."]
            for parameter, code in filters.base_filters.items()
            if isinstance(code, CodeFilter)
            and params.get(parameter)
            and not code.is_known(params[parameter], listed=filters._meta.model)
        }
        if wrong:
            raise serializers.ValidationError(wrong)

    def sheet_rows(self, listed: Any) -> Iterator[Mapping[str, Any]]:
        """All rows, read in parts as they are needed."""
        is_query = isinstance(listed, QuerySet)
        found = iter(listed.iterator(chunk_size=CHUNK_ROWS) if is_query else listed)
        while part := list(islice(found, CHUNK_ROWS)):
            yield from self.rows(part)

    def sheet_name(self) -> str:
        """The name of its file: the last word of the address."""
        return self.request.path.strip("/").rpartition("/")[2]

    @property
    def default_response_headers(self) -> dict[str, str]:
        """The same address answers in several formats."""
        return {**super().default_response_headers, "Vary": "Accept"}

    def known_parameters(self) -> Sequence[str]:
        """What it asks, filters, search, ordering, page and format, as far as the door has them."""
        if self.request.method not in {"GET", "HEAD"}:
            return ()
        filters = (
            [name for name, _, _ in filter_parameters(self.filterset_class)]
            if self.filterset_class
            else []
        )
        search = ["search"] if self.search_fields else []
        ordering = ["ordering"] if self.ordering_fields else []
        asked = super().known_parameters()
        return [*asked, *filters, *search, *ordering, *PAGE_PARAMETERS, FORMAT]


def _refuse_pages(request: Request) -> None:
    paged = [name for name in PAGE_PARAMETERS if name in request.query_params]
    if paged:
        words = ["A sheet has every row: leave the page out, or ask for JSON."]
        raise serializers.ValidationError(dict.fromkeys(paged, words))


@cache
def filter_parameters(filterset_class: type[FilterSet]) -> Sequence[tuple[str, str, forms.Field]]:
    """Query parameters, their filters' names and fields.

    A range has two parameters (`made_at_after`, `made_at_before`).
    """
    filters: dict[str, Any] = vars(filterset_class)["base_filters"]
    return [
        ((name if suffix is None else f"{name}_{suffix}"), name, item.field)
        for name, item in filters.items()
        for suffix in getattr(item.field.widget, "suffixes", None) or [None]
    ]
