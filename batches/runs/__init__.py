"""Batches and entries: plan, record, correct."""
