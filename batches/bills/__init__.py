"""Bills of materials."""
