"""Arithmetic of a trace and of causes: flows between lots, tables of what failed, evidence."""
