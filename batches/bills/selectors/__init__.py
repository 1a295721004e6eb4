"""Reads of stages and bills of materials. Each states its queries."""
