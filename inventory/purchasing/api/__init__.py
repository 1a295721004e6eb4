"""Doors of purchasing."""

from __future__ import annotations

from django.urls import path

from inventory.purchasing.api import orders, receipts

urlpatterns = [
    path("supplier-orders/", orders.OrdersDoor.as_view()),
    path("supplier-orders/<str:code>/", orders.OrderDoor.as_view()),
    path("supplier-orders/<str:code>/close/", orders.OrderCloseDoor.as_view()),
    path("supplier-orders/<str:code>/cancel/", orders.OrderCancelDoor.as_view()),
    path("supplier-order-lines/", orders.OrderLinesDoor.as_view()),
    path("receipts/", receipts.ReceiptsDoor.as_view()),
    path("receipts/<str:code>/", receipts.ReceiptDoor.as_view()),
    path("receipts/<str:code>/reverse/", receipts.ReceiptReverseDoor.as_view()),
    path("supplier-returns/", receipts.SupplierReturnsDoor.as_view()),
    path("supplier-returns/<str:code>/reverse/", receipts.SupplierReturnReverseDoor.as_view()),
]
