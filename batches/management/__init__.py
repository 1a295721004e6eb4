"""Commands of this floor."""
