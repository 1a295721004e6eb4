"""Reads of recalls: what is at risk now, the cases, and what goes on their papers."""
