"""Checks, sampling plans, control charts, holds and their causes."""
