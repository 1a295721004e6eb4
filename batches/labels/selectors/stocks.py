"""Which stock there is, and a print job on it."""

from __future__ import annotations

from django.conf import settings

from batches.labels.errors import StartOffSheetError, StockUnknownError
from batches.labels.rules.stock import STANDING, PrintJob, Stock


def stocks() -> list[Stock]:
    """Every stock there is to print on."""
    return list(STANDING.values())


def stock_named(name: str) -> Stock:
    """The stock of that name.

    Raises:
        StockUnknownError: there is none; the facts name those there are.
    """
    for stock in stocks():
        if stock.name == name:
            return stock
    raise StockUnknownError(
        "No stock has this name. Take one of those in the facts.",
        stock=name,
        stocks=[stock.name for stock in stocks()],
    )


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
    )
