"""Arithmetic of rises, and their words."""
