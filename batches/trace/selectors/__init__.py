"""Reads of the genealogy: what went in, where it went. Each function states its statements."""

from __future__ import annotations

from batches.trace.selectors.became import BECAME
from batches.trace.selectors.causes import causes
from batches.trace.selectors.results import SOURCES
from batches.trace.selectors.traces import DEPTH_MAX, Question, downstream, upstream
from batches.trace.selectors.walking import EDGES_MAX, NODES_MAX

__all__ = [
    "BECAME",
    "DEPTH_MAX",
    "EDGES_MAX",
    "NODES_MAX",
    "SOURCES",
    "Question",
    "causes",
    "downstream",
    "upstream",
]
