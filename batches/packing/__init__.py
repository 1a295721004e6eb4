"""Customer orders, boxes, shipments, complaints."""
