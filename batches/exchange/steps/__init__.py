"""Writes of an import, inside one open transaction; each through the steps of the room it is of."""
