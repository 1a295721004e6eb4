"""Reads of the ledger."""
