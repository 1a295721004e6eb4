"""Writes of batches and entries, inside an open transaction."""
