"""Which stock there is, the standing one and the shop's own, and a print job on it."""

from __future__ import annotations

from dataclasses import fields
from typing import NamedTuple

from django.conf import settings

from batches.labels.errors import StartOffSheetError, StockUnknownError
from batches.labels.models import LabelStock
from batches.labels.rules.papers import PrinterTest
from batches.labels.rules.stock import STANDING, PrintJob, Stock

STOCK_COLUMNS = tuple(field.name for field in fields(Stock) if field.name != "name")


class StockRow(NamedTuple):
    """A stock as the API shows one.

    Attributes:
        is_standing: Every shop has it, and nobody changes it.
    """

    stock: Stock
    is_standing: bool
    is_active: bool


def stock_of(row: LabelStock) -> Stock:
    """The shop's own stock as `Stock` has it. No query."""
    return Stock(name=row.code, **{name: getattr(row, name) for name in STOCK_COLUMNS})


def stock_rows() -> list[StockRow]:
    """Every stock, the standing ones first. One statement."""
    standing = [StockRow(stock, is_standing=True, is_active=True) for stock in STANDING.values()]
    own = LabelStock.objects.order_by("code")
    return standing + [
        StockRow(stock_of(row), is_standing=False, is_active=row.is_active) for row in own
    ]


def stock_named(name: str) -> Stock:
    """The stock of that name, in whatever case. At most one statement.

    Raises:
        StockUnknownError: there is none in use; the facts name those there are.
    """
    if name.lower() in STANDING:
        return STANDING[name.lower()]
    usable = [row.stock for row in stock_rows() if row.is_active]
    for stock in usable:
        if stock.name == name.upper():
            return stock
    raise StockUnknownError(
        "No stock in use has this name. Take one of those in the facts.",
        stock=name,
        stocks=[stock.name for stock in usable],
    )


def printer_tests(job: PrintJob) -> list[PrinterTest]:
    """One for each label of a page, from the first one that is used on. No query."""
    return [PrinterTest(code=job.stock.name)] * (job.stock.a_page - job.start + 1)


def print_job(
    stock: str,
    *,
    dpi: int,
    start: int = 1,
    nudge_x_um: int = 0,
    nudge_y_um: int = 0,
    has_cut_marks: bool = False,
) -> PrintJob:
    """A job of this shop, as `PrintJob` has it.

    Raises:
        StockUnknownError: no such stock.
        StartOffSheetError: the page has fewer labels than that.
    """
    found = stock_named(stock)
    if not 1 <= start <= found.a_page:
        raise StartOffSheetError(
            f"A page of {found.name} has {found.a_page} labels: start at 1 to {found.a_page}.",
            stock=found.name,
            labels=found.a_page,
            start=start,
        )
    return PrintJob(
        stock=found,
        dpi=dpi,
        start=start,
        nudge_x_um=nudge_x_um,
        nudge_y_um=nudge_y_um,
        has_cut_marks=has_cut_marks,
        shop_name=settings.SHOP_NAME,
        is_demo=settings.SHOP_IS_DEMO,
        address=settings.SHOP_ADDRESS,
    )
