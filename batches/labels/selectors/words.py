"""What fits some words: where nobody scanned a code, but looks for a thing by its name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import reduce
from operator import and_, or_
from typing import Any, Final, NamedTuple

from django.db.models import F, IntegerField, Model, Q, QuerySet, TextField, Value
from django.db.models.functions import Cast

from batches.labels.selectors.targets import API
from batches.packing.models import Box, Customer, CustomerOrder
from batches.runs.models import Batch
from inventory.catalog.models import Colorway, Equipment, Item, LureModel, Place, Supplier
from inventory.purchasing.models import SupplierOrder
from inventory.stock.models import Lot

FEW: Final = 10  # of a kind of which there are thousands
NAMED_MAX: Final = 40


class WordHit(NamedTuple):
    """A thing that fits."""

    kind: str
    code: str
    name: str
    address: str


class _Kind(NamedTuple):
    kind: str
    model: type[Model]
    plural: str
    name: str = "name"


_NAMED: Final = (
    _Kind("item", Item, "items"),
    _Kind("model", LureModel, "models"),
    _Kind("colorway", Colorway, "colorways"),
    _Kind("customer", Customer, "customers"),
    _Kind("supplier", Supplier, "suppliers"),
    _Kind("place", Place, "places"),
    _Kind("equipment", Equipment, "equipment"),
    _Kind("customer order", CustomerOrder, "customer-orders", "customer__name"),
    _Kind("supplier order", SupplierOrder, "supplier-orders", "supplier__name"),
)


def found_by_words(text: str) -> list[WordHit]:
    """What has all of the words in its code or name: at most 70, in four statements.

    Of lots only those on hand; of lots, batches and boxes the newest.
    """
    words = text.split()
    return [*_by_name(words), *_many(words)] if words else []


def _by_name(words: Sequence[str]) -> Iterator[WordHit]:
    parts = [_rows(kind, rank, words) for rank, kind in enumerate(_NAMED)]
    found = parts[0].union(*parts[1:], all=True).order_by("hit_rank", "hit_code")[:NAMED_MAX]
    for rank, code, name in found:
        yield _hit(_NAMED[rank], code, name)


def _rows(kind: _Kind, rank: int, words: Sequence[str]) -> Any:
    rows = kind.model._default_manager.filter(_all_in(words, "code", kind.name))
    if kind.model is Place:
        rows = rows.filter(box__isnull=True)  # a box is a place, and looked for as a box
    return (
        rows.order_by()
        .annotate(
            hit_rank=Value(rank, output_field=IntegerField()),
            hit_code=Cast("code", TextField()),
            hit_name=Cast(F(kind.name), TextField()),
        )
        .values_list("hit_rank", "hit_code", "hit_name")
    )


def _many(words: Sequence[str]) -> Iterator[WordHit]:
    item = ("item__code", "item__name")
    lots = Lot.objects.filter(_all_in(words, "code", "supplier_lot_code", *item))
    looked: tuple[tuple[_Kind, QuerySet[Any], str], ...] = (
        (_Kind("lot", Lot, "lots"), lots.filter(on_hand_base__gt=0), "item__name"),
        (
            _Kind("batch", Batch, "batches"),
            Batch.objects.filter(_all_in(words, "code", *item)),
            "item__name",
        ),
        (_Kind("box", Box, "boxes"), Box.objects.filter(_all_in(words, "code")), "state"),
    )
    for kind, rows, name in looked:
        for code, named in rows.order_by("-pk").values_list("code", name)[:FEW]:
            yield _hit(kind, code, named)


def _all_in(words: Sequence[str], *columns: str) -> Q:
    """Every word in one of the columns."""
    return reduce(
        and_, (reduce(or_, (Q(**{f"{c}__icontains": word}) for c in columns)) for word in words)
    )


def _hit(kind: _Kind, code: str, name: str) -> WordHit:
    return WordHit(kind.kind, code, name, f"{API}/{kind.plural}/{code}/")
