"""Orders to suppliers and of customers."""

from __future__ import annotations

from batches.exchange.rules.reading import Row
from batches.exchange.steps.rowing import Importing, amount_in, documents, refusals_of
from batches.packing.errors import NotPiecesError
from batches.packing.models import Customer, CustomerOrder, CustomerOrderLine
from inventory.catalog.models import DimensionKind, Item
from inventory.purchasing.steps.orders import OrderLineDraft, add_order


def post_supplier_orders(importing: Importing) -> None:
    """All of them; their receipts close them."""
    for rows in documents(importing.each("supplier_orders")):
        head = rows[0]
        with refusals_of(head):
            add_order(
                supplier_code=head["supplier"],
                lines=[_supplier_line(row) for row in rows],
                stamp=importing.stamp(),
                code=head["order"],
                ordered_on=head["ordered_on"],
                note=head["note"] or "",
            )


def _supplier_line(row: Row) -> OrderLineDraft:
    return OrderLineDraft(
        item_code=row["item"],
        packs=row["packs"],
        pack=amount_in(row),
        pack_price_micro=row["price"],
        promised_on=row["promised_on"],
    )


def post_customer_orders(importing: Importing) -> None:
    """All of them; their shipments close them. Two statements an order."""
    orders = documents(importing.each("customer_orders"))
    customers = {row.code: row for row in Customer.objects.all()}
    items = {row.code: row for row in Item.objects.all()}
    for rows in orders:
        head = rows[0]
        for row in rows:
            with refusals_of(row):
                _refuse_not_pieces(items[row["item"]])
        order = CustomerOrder.objects.create(
            code=head["order"],
            customer=customers[head["customer"]],
            ordered_on=head["ordered_on"],
            note=head["note"] or "",
            by=importing.by,
            recorded_at=importing.now,
        )
        CustomerOrderLine.objects.bulk_create(
            [
                CustomerOrderLine(
                    order=order,
                    position=position,
                    item=items[row["item"]],
                    qty_base=row["pieces"],
                    price_micro=row["price"],
                    promised_on=row["promised_on"],
                )
                for position, row in enumerate(rows, start=1)
            ]
        )


def _refuse_not_pieces(item: Item) -> None:
    if item.dimension != DimensionKind.COUNT:
        raise NotPiecesError("Only what is counted in pieces is ordered.", item=item.code)
