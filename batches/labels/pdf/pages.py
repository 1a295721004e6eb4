"""Pages of a print job: where each label lies, cut marks, and the file."""

from __future__ import annotations

from typing import IO, Final

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from batches.labels.pdf.embedding import Embedding
from batches.labels.pdf.sheet import Sheet
from batches.labels.rules.stock import POINTS_PER_INCH, UM_PER_MM, PrintJob, dots

CUT_MARK_UM: Final = 3 * UM_PER_MM
CUT_LINE_PT: Final = 0.25
rl_config.useA85 = 0  # streams as they are, not as letters: a fifth smaller, and sooner written


class Pages:
    """A file of labels, laid out on their stock one after the other.

    Args:
        file: Where to.
        job: On what and for whom.
        title: Of the file.
    """

    def __init__(self, file: IO[bytes], *, job: PrintJob, title: str) -> None:
        assert 1 <= job.start <= job.stock.a_page
        self.job = job
        size = [
            dots(side, job.dpi) * POINTS_PER_INCH / job.dpi
            for side in (job.stock.page_width_um, job.stock.page_height_um)
        ]
        # Invariant: no time of making in the file, so that the same paper is the same bytes.
        self._canvas = Canvas(file, pagesize=size, invariant=1, pageCompression=1)
        self._embedding = Embedding(self._canvas)
        self._canvas.setTitle(title)
        self._canvas.setAuthor(job.shop_name)
        self._next = job.start - 1
        self._is_begun = False

    def label(self) -> Sheet:
        """The next label, on a new page where the last one is full."""
        if self._is_begun and self._next % self.job.stock.a_page == 0:
            self._canvas.showPage()
        left_um, top_um = self.job.stock.place_um(self._next)
        self._next += 1
        self._is_begun = True
        if self.job.has_cut_marks:
            self._cut_marks(left_um, top_um)
        return Sheet(
            self._canvas,
            embedding=self._embedding,
            job=self.job,
            left_dots=dots(left_um + self.job.nudge_x_um, self.job.dpi),
            top_dots=dots(top_um + self.job.nudge_y_um, self.job.dpi),
        )

    def save(self) -> int:
        """End the last page and write the file; returns how many pages it has."""
        self._canvas.showPage()
        self._canvas.save()
        return int(self._canvas.getPageNumber()) - 1

    def _cut_marks(self, left_um: int, top_um: int) -> None:
        """A corner at each corner of the label, inwards."""
        stock, canvas = self.job.stock, self._canvas
        left, top = left_um + self.job.nudge_x_um, top_um + self.job.nudge_y_um
        right, bottom = left + stock.label_width_um, top + stock.label_height_um
        canvas.setLineWidth(CUT_LINE_PT)
        canvas.setStrokeGray(0)
        for x, inwards_x in ((left, CUT_MARK_UM), (right, -CUT_MARK_UM)):
            for y, inwards_y in ((top, CUT_MARK_UM), (bottom, -CUT_MARK_UM)):
                canvas.line(self._x(x), self._y(y), self._x(x + inwards_x), self._y(y))
                canvas.line(self._x(x), self._y(y), self._x(x), self._y(y + inwards_y))

    def _x(self, um: int) -> float:
        return dots(um, self.job.dpi) * POINTS_PER_INCH / self.job.dpi

    def _y(self, um: int) -> float:
        return self._x(self.job.stock.page_height_um - um)
