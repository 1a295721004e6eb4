"""Carton labels in one file: 1,000 beside a bare ReportLab loop that draws the same; 10,000."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable, Iterator
from io import BytesIO
from resource import RUSAGE_SELF, getrusage
from typing import Any
from unittest.mock import patch

from reportlab.pdfgen.canvas import Canvas

from batches.labels.pdf import pages, write_papers
from batches.labels.pdf.embedding import Embedding
from batches.labels.rules.papers import BoxItem
from batches.labels.rules.papers_packing import CartonLabel, carton_elements
from batches.labels.rules.stock import LABELS_MAX, STANDING, PrintJob
from shopfloor.codes.fitting import symbol_plan
from shopfloor.codes.gs1.numbers import CompanyPrefix
from shopfloor.codes.symbols import code128_widths, datamatrix_modules
from tests.bench.figures import Figure, seconds

LABELS = 1000
TIMES = LABELS_MAX // LABELS
GOAL = 0.5
FILE_BYTES_MAX = 3_000
MEMORY_BYTES_MAX = 25_000
ONE_SECONDS_MAX = 0.05
PREFIX = CompanyPrefix("9521234")
JOB = PrintJob(stock=STANDING["4x6"], dpi=203, shop_name="Bench shop", is_demo=True)
Call = tuple[str, tuple[Any, ...], dict[str, Any]]
DRAWN = ("setFont", "setFillGray", "drawString", "rect", "drawPath", "showPage")


def rows() -> Iterator[Figure]:
    """Time, size and memory of many labels, and the time of one."""
    labels = [_label(number) for number in range(LABELS)]
    calls = _calls(labels)
    what = f"{LABELS} carton labels, GS1-128 and Data Matrix"
    ours, bare = seconds(lambda: _ours(labels), times=1), seconds(lambda: _bare(calls), times=1)
    yield Figure(what, ours, bare, GOAL)
    yield Figure("the file, a label", _ours(labels) / LABELS, FILE_BYTES_MAX, 1, "B")
    yield Figure("memory, a label", _memory(labels) / LABELS, MEMORY_BYTES_MAX, 1, "B")
    most = [_label(number) for number in range(LABELS_MAX)]
    before = getrusage(RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()  # once: everything is warm, and it takes a minute
    _ours(most)
    took = time.perf_counter() - start
    yield Figure(f"{LABELS_MAX} of them, beside {TIMES} times as long", took, TIMES * ours, 0.8)
    # Not traced, which would take ten minutes: what the process grew by, as the system has it.
    grown = (getrusage(RUSAGE_SELF).ru_maxrss - before) * 1024 / (LABELS_MAX - LABELS)
    yield Figure("memory then, each label more", grown, MEMORY_BYTES_MAX, 1, "B")
    one = seconds(lambda: _ours(labels[:1]), times=20)
    yield Figure("one label, beside 50 ms", one, ONE_SECONDS_MAX, 1)


def _label(number: int) -> CartonLabel:
    """No two alike: what is kept of an earlier symbol is not what is measured."""
    lot = f"L-2{number:05d}"
    item = BoxItem("Shallow minnow 90", "Yellow perch", "MINNOW-90-PERCH", 24, (lot,), "Made 2026")
    return CartonLabel(
        code=f"X-2{number:05d}",
        elements=carton_elements(
            sscc=PREFIX.sscc(number), gtin=PREFIX.gtin(17), pieces=24, lots=(lot,)
        ),
        ship_to=("A bench customer", "1 Test Road", "Testville"),
        order="T-2227",
        carrier="Test carrier",
        pieces=24,
        items=(item,),
    )


def _ours(labels: list[CartonLabel]) -> int:
    """Draw them; the size of the file."""
    for kept in (symbol_plan, code128_widths, datamatrix_modules):
        getattr(kept, "cache_clear", lambda: None)()
    file = BytesIO()
    write_papers(labels, job=JOB, file=file)
    return file.tell()


def _memory(labels: list[CartonLabel]) -> int:
    """The most that drawing them takes, the file included; bytes."""
    tracemalloc.start()
    _ours(labels)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


class _Heard(Canvas):  # type: ignore[misc]  # ReportLab has no types
    """A canvas that keeps what it was told to draw."""

    heard: list[Call]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        _Heard.heard = []

    def __getattribute__(self, name: str) -> Any:
        told = super().__getattribute__(name)
        if name not in DRAWN:
            return told

        def hear(*args: Any, **options: Any) -> Any:
            _Heard.heard.append((name, args, options))
            return told(*args, **options)

        return hear


def _calls(labels: list[CartonLabel]) -> list[Call]:
    """Every call of ReportLab's that drawing them takes; of a symbol, its rectangles."""
    with (
        patch.object(pages, "Canvas", _Heard),
        patch.object(Embedding, "draw_latin", _hear_latin(Embedding.draw_latin)),
    ):
        _ours(labels)
    names = {name for name, _, _ in _Heard.heard}
    assert {"drawPath", "drawString", "showPage"} <= names, "symbols, text and pages were heard"
    return [
        (name, tuple(_rectangles(args[0])) if name == "drawPath" else args, options)
        for name, args, options in _Heard.heard
    ]


def _hear_latin(draw_latin: Callable[..., None]) -> Callable[..., None]:
    """Lines that are written past the library's own way, as calls of that way."""

    def hear(self: Embedding, text: str, face: str, *, x: float, y: float, size_pt: float) -> None:
        _Heard.heard += [("setFont", (face, size_pt), {}), ("drawString", (x, y, text), {})]
        draw_latin(self, text, face, x=x, y=y, size_pt=size_pt)

    return hear


def _rectangles(path: Any) -> Iterator[tuple[float, ...]]:
    for code in path._code:
        if code.endswith(" re"):
            yield tuple(map(float, code.split()[:4]))


def _bare(calls: list[Call]) -> None:
    """The same calls, the rectangles of each symbol among them, and nothing else."""
    canvas = Canvas(BytesIO(), pagesize=(288, 432), invariant=1, pageCompression=1)
    for name, args, options in calls:
        if name == "drawPath":
            path = canvas.beginPath()
            for rectangle in args:
                path.rect(*rectangle)
            canvas.drawPath(path, **options)
        else:
            getattr(canvas, name)(*args, **options)
    canvas.save()
