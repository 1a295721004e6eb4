"""What we hold. Stands on `shopfloor`."""
