"""Writes of stages and bills that need a transaction already open."""
