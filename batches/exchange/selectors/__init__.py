"""Reads of an import and the proofs of this floor. Each states its queries."""
