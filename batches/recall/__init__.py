"""Recall: everything a suspect lot may be in, held, told of and accounted for."""
