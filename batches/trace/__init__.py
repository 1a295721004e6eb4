"""Genealogy, causes, recall."""
