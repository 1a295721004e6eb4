"""Supplier orders as papers to send."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django.conf import settings

from batches.labels.rules.papers_report import Report, Section
from batches.labels.selectors.reports import amount_text, table
from inventory.catalog.models import Offer
from inventory.catalog.selectors import measure_of
from inventory.purchasing.selectors import orders
from inventory.stock.selectors.amounts import amount_row
from shopfloor.errors import NotFoundError
from shopfloor.money import money_shown, money_text

WIDTHS = {
    "Your number": 18,
    "Our item": 28,
    "Packs": 8,
    "Pack": 13,
    "A pack": 10,
    "In all": 11,
    "Promised": 12,
}


def supplier_order_papers(codes: Sequence[str]) -> list[Report]:
    """Orders, in the order asked. Four statements.

    Raises:
        NotFoundError: codes that no order has.
    """
    found = {order.code: order for order in orders().filter(code__in=codes)}
    if missing := [code for code in codes if code not in found]:
        raise NotFoundError(
            f"No supplier order has the code {missing[0]}. Look at the list.", codes=missing
        )
    numbers = _numbers(found.values())
    return [_paper(found[code], numbers) for code in codes]


def _numbers(found: Any) -> dict[tuple[int, int, int], str]:
    """The suppliers' own numbers, by supplier, item and pack."""
    rows = Offer.objects.filter(supplier__in=[order.supplier_id for order in found])
    return {
        (supplier_id, item_id, pack_base): number
        for supplier_id, item_id, pack_base, number in rows.values_list(
            "supplier_id", "item_id", "pack_base", "supplier_item_number"
        )
    }


def _paper(order: Any, numbers: dict[tuple[int, int, int], str]) -> Report:
    lines = list(order.lines.all())
    total_micro = sum(line.packs * line.pack_price_micro for line in lines)
    return Report(
        code=order.code,
        title=f"Order {order.code}",
        facts=tuple(_facts(order, total_micro)),
        sections=(
            Section(
                title="Please deliver",
                words=(order.note,) if order.note else (),
                table=table(WIDTHS, _rows(order, lines, numbers), nothing="Nothing."),
            ),
        ),
    )


def _facts(order: Any, total_micro: int) -> Iterator[tuple[str, str]]:
    yield "From", settings.SHOP_NAME
    yield "To", ", ".join(filter(None, (order.supplier.name, order.supplier.contact)))
    yield "Ordered on", order.ordered_on.isoformat()
    yield "By", order.by.display_name
    yield "In all", f"{money_shown(total_micro)} {settings.SHOP_CURRENCY}"
    if order.state != "open":
        yield "State", order.state


def _rows(
    order: Any, lines: Sequence[Any], numbers: dict[tuple[int, int, int], str]
) -> Iterator[list[str]]:
    for line in lines:
        item = line.item
        dimension = measure_of(item).dimension
        pack = amount_row(line.pack_base, dimension=dimension, unit=item.display_unit)
        yield [
            numbers.get((order.supplier_id, item.pk, line.pack_base), ""),
            f"{item.code} {item.name}",
            str(line.packs),
            amount_text(pack),
            money_text(line.pack_price_micro),
            money_shown(line.packs * line.pack_price_micro),
            "" if line.promised_on is None else line.promised_on.isoformat(),
        ]
