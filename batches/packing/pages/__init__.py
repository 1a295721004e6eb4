"""Pages of customers, their orders, boxes, shipments, returns and complaints."""

from __future__ import annotations

from batches.packing.pages import boxes, complaints, customers, shipments

urlpatterns = [
    *customers.urlpatterns,
    *boxes.urlpatterns,
    *shipments.urlpatterns,
    *complaints.urlpatterns,
]
