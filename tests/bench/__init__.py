"""Figures: how fast the house is, measured on this machine; run with `python -m tests.bench`.

A module here that offers `rows()` is a bench: it yields `Figure`s and is found by its name. Django
is set up when it is called, and the database is a throw-away copy it may write in.
"""
