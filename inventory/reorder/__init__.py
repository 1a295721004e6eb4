"""Demand, lead times, reorder points: arithmetic on what it is given."""
