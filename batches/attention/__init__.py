"""The first page: what needs a person now."""
