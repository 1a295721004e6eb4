"""Checks, sampling plans and control charts; what fails is held."""
