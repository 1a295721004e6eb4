"""Writes of planning; see each file."""
