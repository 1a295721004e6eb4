"""Doors of customers, their orders, boxes, shipments, returns and complaints."""

from __future__ import annotations

from django.urls import path

from batches.packing.api import boxes, complaints, customers, shipments

urlpatterns = [
    path("customers/", customers.CustomersDoor.as_view()),
    path("customers/<str:code>/", customers.CustomerDoor.as_view()),
    path("customers/<str:code>/change/", customers.ChangeCustomerDoor.as_view()),
    path("customer-orders/", customers.CustomerOrdersDoor.as_view()),
    path("customer-orders/<str:code>/", customers.CustomerOrderDoor.as_view()),
    path("customer-orders/<str:code>/close/", customers.CloseOrderDoor.as_view()),
    path("customer-orders/<str:code>/cancel/", customers.CancelOrderDoor.as_view()),
    path("boxes/", boxes.BoxesDoor.as_view()),
    path("boxes/<str:code>/", boxes.BoxDoor.as_view()),
    path("boxes/<str:code>/add/", boxes.AddDoor.as_view()),
    path("boxes/<str:code>/take-out/", boxes.TakeOutDoor.as_view()),
    path("boxes/<str:code>/close/", boxes.CloseDoor.as_view()),
    path("boxes/<str:code>/reopen/", boxes.ReopenDoor.as_view()),
    path("boxes/<str:code>/put-in/", boxes.PutInDoor.as_view()),
    path("ssccs/", boxes.SsccsDoor.as_view()),
    path("shipments/", shipments.ShipmentsDoor.as_view()),
    path("shipments/<str:code>/", shipments.ShipmentDoor.as_view()),
    path("shipments/<str:code>/reverse/", shipments.ReverseDoor.as_view()),
    path("customer-returns/", shipments.CustomerReturnsDoor.as_view()),
    path("customer-returns/<str:code>/", shipments.CustomerReturnDoor.as_view()),
    path("customer-returns/<str:code>/reverse/", shipments.ReverseReturnDoor.as_view()),
    path("complaints/", complaints.ComplaintsDoor.as_view()),
    path("complaints/<str:code>/", complaints.ComplaintDoor.as_view()),
]
