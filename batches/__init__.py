"""What we make. Stands on `inventory`."""
