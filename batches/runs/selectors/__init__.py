"""Reads of batches and entries. Each states its queries."""
