"""Reads of checks."""
