"""Reads of customers, orders, boxes and shipments. Each function states its statements."""

from __future__ import annotations

from batches.packing.selectors.boxes import (
    BoxRow,
    ContentRow,
    LotBox,
    all_contents,
    box_named,
    box_rows,
    boxes,
    boxes_of_lots,
    lot_ids_of_box,
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
    ShippedLot,
    return_row,
    returned_sums,
    shipment_named,
    shipment_rows,
    shipments,
    shipments_of_lots,
)

__all__ = [
    "BoxRow",
    "ContentRow",
    "LotBox",
    "OrderLineRow",
    "OrderRow",
    "ReturnRow",
    "ShipmentLineRow",
    "ShipmentRow",
    "ShippedLot",
    "all_contents",
    "box_named",
    "box_rows",
    "boxes",
    "boxes_of_lots",
    "customer_named",
    "customer_orders",
    "customers",
    "lot_ids_of_box",
    "order_named",
    "order_rows",
    "promised_base",
    "return_row",
    "returned_sums",
    "shipment_named",
    "shipment_rows",
    "shipments",
    "shipments_of_lots",
]
