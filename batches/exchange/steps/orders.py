"""Orders to suppliers and of customers."""

from __future__ import annotations

from batches.exchange.rules.reading import Row
from batches.exchange.steps.rowing import Importing, amount_in, documents, refusals_of
from batches.packing.steps.ordering import OrderLine
from batches.packing.steps.ordering import add_order as add_customer_order
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
    """All of them; their shipments close them."""
    for rows in documents(importing.each("customer_orders")):
        head = rows[0]
        with refusals_of(head):
            add_customer_order(
                customer_code=head["customer"],
                lines=[
                    OrderLine(row["item"], row["pieces"], row["price"], row["promised_on"])
                    for row in rows
                ],
                stamp=importing.stamp(),
                code=head["order"],
                ordered_on=head["ordered_on"],
                note=head["note"] or "",
            )
