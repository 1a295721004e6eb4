"""Writes that need an open transaction. Lots are locked before boxes, boxes before orders."""
