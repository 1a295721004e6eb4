"""Arithmetic of planning; what each file is about is its name."""
