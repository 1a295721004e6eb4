"""Commands of the ground floor."""
