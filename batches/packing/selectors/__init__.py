"""Reads of customers, orders, boxes and shipments. Each function states its statements."""

from __future__ import annotations

from batches.packing.selectors.boxes import (
    BoxContents,
    BoxRow,
    ContentRow,
    box_named,
    box_of_sscc,
    box_rows,
    boxes,
    contents_of,
    ssccs_of,
)
from batches.packing.selectors.orders import (
    OrderLineRow,
    OrderRow,
    customer_named,
    customer_orders,
    customers,
    order_named,
    order_rows,
    promised_base,
)
from batches.packing.selectors.shipments import (
    ReturnRow,
    ShipmentLineRow,
    ShipmentRow,
    customer_return_named,
    customer_returns,
    return_rows,
    returned_sums,
    shipment_named,
    shipment_rows,
    shipments,
)

__all__ = [
    "BoxContents",
    "BoxRow",
    "ContentRow",
    "OrderLineRow",
    "OrderRow",
    "ReturnRow",
    "ShipmentLineRow",
    "ShipmentRow",
    "box_named",
    "box_of_sscc",
    "box_rows",
    "boxes",
    "contents_of",
    "customer_named",
    "customer_orders",
    "customer_return_named",
    "customer_returns",
    "customers",
    "order_named",
    "order_rows",
    "promised_base",
    "return_rows",
    "returned_sums",
    "shipment_named",
    "shipment_rows",
    "shipments",
    "ssccs_of",
]
