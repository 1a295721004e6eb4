"""Arithmetic of checks: how many to test, what passes, charts and what a process can hold."""
