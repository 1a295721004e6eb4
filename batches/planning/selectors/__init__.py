"""What the shelf, the bills and the orders say to a plan."""
