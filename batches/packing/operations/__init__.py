"""Business events of packing and shipping, by what a person does."""

from __future__ import annotations

from batches.packing.operations.boxes import (
    add_to_box,
    close_box,
    pack_box,
    put_box_in,
    reopen_box,
    take_out_of_box,
)
from batches.packing.operations.complaints import ComplaintDraft, complain
from batches.packing.operations.customers import (
    cancel_customer_order,
    change_customer,
    close_customer_order,
    create_customer,
    enter_customer_order,
)
from batches.packing.operations.shipments import (
    Back,
    LooseLot,
    Part,
    Price,
    Purpose,
    reverse_customer_return,
    reverse_shipment,
    ship,
    take_back_from_customer,
)
from batches.packing.operations.ssccs import allot_ssccs
from batches.packing.steps.ordering import OrderLine

__all__ = [
    "Back",
    "ComplaintDraft",
    "LooseLot",
    "OrderLine",
    "Part",
    "Price",
    "Purpose",
    "add_to_box",
    "allot_ssccs",
    "cancel_customer_order",
    "change_customer",
    "close_box",
    "close_customer_order",
    "complain",
    "create_customer",
    "enter_customer_order",
    "pack_box",
    "put_box_in",
    "reopen_box",
    "reverse_customer_return",
    "reverse_shipment",
    "ship",
    "take_back_from_customer",
    "take_out_of_box",
]
