"""Writes of checks; each needs a transaction already open."""
