"""Imports, exports, demo, verify, backup."""
