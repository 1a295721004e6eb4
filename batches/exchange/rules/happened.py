"""Sheets of what happened: orders, deliveries, runs, checks, and what left and came back."""

from __future__ import annotations

from typing import Final

from batches.exchange.rules.kinds import (
    amount,
    choice,
    code,
    day,
    flag,
    moment,
    money,
    person,
    ref,
    text,
    unit,
    whole,
)
from batches.exchange.rules.lists import (
    GRADES,
    codes,
    factors,
    item_prices,
    lot,
    lots_used,
    results,
    tallies,
    written_amount,
)
from batches.exchange.rules.sheets import AmountColumns, Column, Sheet

PACKS_MAX: Final = 10**6
MINUTES_MAX: Final = 10_000

EVENTS: Final = ("open", "hold", "release", "move", "dispose")

_AT: Final = Column("at", moment(), "when it happened", required=True)

SUPPLIER_ORDERS: Final = Sheet(
    name="supplier_orders",
    about="A line of an order to a supplier; rows with the same `order` are one order. It closes "
    "as its receipts come in.",
    gives="order",
    group="order",
    shared=("supplier", "ordered_on", "note"),
    amounts=(AmountColumns("amount", "unit", "item"),),
    columns=(
        Column("order", code(), "the shop's own number of the order", required=True),
        Column("supplier", ref("suppliers"), "who it went to", required=True),
        Column("ordered_on", day(), "the day it went out", required=True),
        Column("item", ref("items"), "what", required=True),
        Column("packs", whole("number of packs", 1, PACKS_MAX), "how many packs", required=True),
        Column("amount", amount(), "how much is in a pack", required=True),
        Column("unit", unit(), "the amount's unit", required=True),
        Column("price", money(), "of a pack; empty: as offered"),
        Column("promised_on", day(future=True), "the day the supplier promised"),
        Column("note", text(300), "anything else, of the whole order"),
    ),
)
CUSTOMER_ORDERS: Final = Sheet(
    name="customer_orders",
    about="A line of a customer's order; rows with the same `order` are one order. It closes as "
    "its shipments go out.",
    gives="order",
    group="order",
    shared=("customer", "ordered_on", "note"),
    columns=(
        Column("order", code(), "the shop's own number of the order", required=True),
        Column("customer", ref("customers"), "who ordered", required=True),
        Column("ordered_on", day(), "the day it came in", required=True),
        Column("item", ref("items"), "what", required=True),
        Column("pieces", whole("number of pieces", 1), "how many", required=True),
        Column("price", money(), "of one", required=True),
        Column("promised_on", day(future=True), "the day we promised"),
        Column("note", text(300), "anything else, of the whole order"),
    ),
)
RECEIPTS: Final = Sheet(
    name="receipts",
    about="A lot that came in; rows with the same `receipt` are one delivery.",
    gives="lot",
    kept_as="lots",
    key=("lot",),
    group="receipt",
    shared=("at", "supplier", "order"),
    amounts=(AmountColumns("amount", "unit", "item"),),
    columns=(
        Column("receipt", text(60), "the number of the delivery note", required=True),
        _AT,
        Column("supplier", ref("suppliers"), "who delivered", required=True),
        Column("order", ref("supplier_orders"), "the order it answers"),
        Column("item", ref("items"), "what came", required=True),
        Column("amount", amount(), "how much", required=True),
        Column("unit", unit(), "the amount's unit", required=True),
        Column("value", money(), "what all of it cost; empty: at the order's price"),
        Column("lot", code(), "the shop's own code; empty: one is made"),
        Column("supplier_lot", text(60), "the supplier's code"),
        Column("expires_on", day(future=True), "the last day it may be used; empty: by shelf life"),
        Column("place", ref("places"), "empty: the item's"),
    ),
)
LOT_EVENTS: Final = Sheet(
    name="lot_events",
    about="What happened to a lot by hand. `open`: a container was opened, with an amount one "
    "container of the lot, which becomes `LOT.1`. `hold`: stopped, with all made of it that is "
    "still here. `release`: tested and found good, or let go again; of what a batch made, all that "
    "was stopped. `move`: put elsewhere, with an amount a part of it. `dispose`: thrown away, "
    "without an amount all of it.",
    amounts=(AmountColumns("amount", "unit", "lot"),),
    columns=(
        _AT,
        Column("lot", lot(), "which lot", required=True),
        Column("event", choice(*EVENTS), "what happened", required=True),
        Column("amount", amount(), "how much of it; empty: all"),
        Column("unit", unit(), "the amount's unit"),
        Column("place", ref("places"), "where it was moved"),
        Column("reason", text(300), "why; needed but for `open` and `move`"),
    ),
)
RUNS: Final = Sheet(
    name="runs",
    about="An entry of a batch: what was made at one time. Rows with the same `batch` are one "
    "batch, which is planned, started, and completed with its last row. What a run took and "
    "`lots` does not name is proposed by the bill, first expired first.",
    gives="batch",
    group="batch",
    shared=("item", "planned"),
    columns=(
        Column("batch", code(), "the shop's own number of the batch", required=True),
        Column("item", ref("bills", "a code of `items` that has a bill"), "what it makes",
               required=True),
        Column("at", moment(), "when the entry was done", required=True),
        Column("good", tallies(of_scrap=False), "good pieces"),
        Column("grade", choice(*GRADES), "of good pieces without a grade; empty: first"),
        Column("scrap", tallies(of_scrap=True), "scrapped pieces"),
        Column("lots", lots_used(), "which lots it took; with amounts: exactly so much"),
        Column("equipment", codes("equipment"), "press, mold, wheel, booth used"),
        Column("factors", factors(), "circumstances that could matter"),
        Column("minutes", whole("number of minutes", 1, MINUTES_MAX), "labor"),
        Column("done_by", person(), "who did it; empty: who imports"),
        Column("planned", written_amount(), "good pieces wanted; empty: those made"),
        Column("complete", flag(), "`no` in its last row: the batch still runs"),
        Column("override_reason", text(300), "why an expired lot was used"),
    ),
)  # fmt: skip
CHECKS: Final = Sheet(
    name="checks",
    about="A test of what a batch or one of its entries made, or of a lot. One that fails holds "
    "what it is of, as at any time: a `release` of `lot_events` lets it go.",
    columns=(
        Column("at", moment(), "when it was tested", required=True),
        Column("check", ref("check_definitions"), "which test", required=True),
        Column("lot", lot(), "what was tested; a part is judged with the lot it was split from",
               required=True),
        Column("entry_at", moment(), "with `batch:CODE`: the entry of that time alone"),
        Column("results", results(), "what was found", required=True),
        Column("reason", text(300), "anything to be said"),
    ),
)  # fmt: skip
BOXES: Final = Sheet(
    name="boxes",
    about="What was put into a box; rows with the same `box` are one box.",
    gives="box",
    group="box",
    shared=("at", "closed"),
    columns=(
        Column("box", code(), "the shop's own number of the box", required=True),
        Column("at", moment(), "when it was packed", required=True),
        Column("lot", lot(), "what went in", required=True),
        Column("pieces", whole("number of pieces", 1), "how many", required=True),
        Column("closed", flag(), "`no`: it is still being packed"),
    ),
)
SHIPMENTS: Final = Sheet(
    name="shipments",
    about="A box, or a lot in no box, that left; rows with the same `shipment` left together.",
    group="shipment",
    shared=("at", "customer", "order", "purpose", "carrier", "prices"),
    columns=(
        Column("shipment", text(60), "any number that keeps shipments apart", required=True),
        _AT,
        Column("customer", ref("customers"), "who it went to", required=True),
        Column("order", ref("customer_orders"), "the order it answers"),
        Column("box", ref("boxes"), "the box that left, with all in it"),
        Column("lot", lot(), "or the lot that left in no box"),
        Column("pieces", whole("number of pieces", 1), "how many of that lot; empty: all"),
        Column("prices", item_prices(), "of one; empty: as ordered"),
        Column("purpose", choice("sale", "sample", "replacement", "free"), "why; empty: a sale"),
        Column("carrier", text(120), "who took it"),
    ),
)
COMPLAINTS: Final = Sheet(
    name="complaints",
    about="What somebody told us is wrong with pieces that left: of a box, of a lot, or of an item "
    "or model and between which days it was bought. Name one of the four.",
    columns=(
        Column("told_on", day(), "the day it was told", required=True),
        Column("defect", ref("scrap_reasons"), "what is wrong", required=True),
        Column("pieces", whole("number of pieces", 1), "how many have it", required=True),
        Column("customer", ref("customers"), "who told it; empty: nobody of `customers`"),
        Column("box", ref("boxes"), "the box that it left in"),
        Column("lot", lot(), "or the lot, as made or as it left"),
        Column("item", ref("items"), "or only what it is"),
        Column("model", ref("models"), "or only its model"),
        Column("bought_first_on", day(), "of an item or model: the first day it may have left us"),
        Column("bought_last_on", day(), "and the last day"),
        Column("note", text(1000), "anything else that was told"),
    ),
)
RETURNS: Final = Sheet(
    name="returns",
    about="Pieces that a customer sent back. They wait in quarantine for a test, unless "
    "they were thrown away.",
    columns=(
        Column("at", moment(), "when they came", required=True),
        Column("box", ref("boxes"), "the box that they left in"),
        Column("lot", lot(), "or the lot that left in no box; or which of several lots in the box"),
        Column("pieces", whole("number of pieces", 1), "how many", required=True),
        Column("place", ref("places"), "where they were put", required=True),
        Column("defect", ref("scrap_reasons"), "what they came back for: the newest complaint of "
               "it, of a day before, that these pieces may be of"),
        Column("disposed", flag(), "`yes`: they were thrown away then"),
        Column("reason", text(300), "anything else that was told"),
    ),
)  # fmt: skip
