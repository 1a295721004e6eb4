"""Text into a PDF: each font as a subset of the glyphs that are drawn.

The PDF library places glyphs by character; a shaped line has glyphs of no character. So they are
numbered here, and the text they stand for goes beside them, to be read and searched. Latin lines
stay with the library's fonts, but are written here: its own way takes three times as long.
"""

from __future__ import annotations

from typing import Any, Final

import uharfbuzz as hb
from reportlab.pdfbase import pdfdoc, pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from batches.labels.pdf.fonts import STROKE, Font, Glyph, Run, Shaped

DROPPED: Final = ("GSUB", "GPOS", "GDEF", "name", "post", "STAT", "cmap")
ESCAPES: Final = {
    code: f"\\{chr(code)}" if chr(code) in "\\()" else f"\\{code:03o}"
    for code in (*range(32), *map(ord, "\\()"), *range(127, 256))
}
"""Of characters that cannot stand in a string of a PDF as they are."""
MAP_HEAD: Final = (
    "/CIDInit /ProcSet findresource begin 12 dict begin begincmap "
    "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def "
    "/CMapName /Adobe-Identity-UCS def /CMapType 2 def "
    "1 begincodespacerange <0000> <FFFF> endcodespacerange\n"
)


class Embedded:
    """One font in one file. The PDF library calls `addObjects` when it writes the file."""

    def __init__(self, font: Font, name: str) -> None:
        self.font, self.name = font, name
        self._numbers: dict[int, int] = {}
        self._texts: dict[int, str] = {}

    def number(self, glyph: Glyph) -> int:
        """Of a glyph in this file, from 1."""
        number = self._numbers.setdefault(glyph.number, len(self._numbers) + 1)
        if glyph.text:
            self._texts.setdefault(number, glyph.text)
        return number

    def width(self, glyph: Glyph) -> int:
        """Of a glyph as the font has it, thousandths of the type size."""
        advance: int = self.font.type.get_glyph_h_advance(glyph.number)
        return round(advance * 1000 / self.font.em)

    def addObjects(self, doc: Any) -> None:  # noqa: N802 - the PDF library's name
        """Put the font, with the glyphs that were drawn, into the file."""
        content, places = self._subset()
        name = f"{_tag(self.name)}+{self.font.path.stem.split('[')[0]}"
        face, em = self.font.type.get_font_extents("ltr"), self.font.em
        descriptor = {
            "Type": "/FontDescriptor",
            "FontName": pdfdoc.PDFName(name),
            "Flags": 4,
            "FontBBox": pdfdoc.PDFArray([-1000, -1000, 3000, 2000]),
            "ItalicAngle": 0,
            "Ascent": round(face.ascender * 1000 / em),
            "Descent": round(face.descender * 1000 / em),
            "CapHeight": 700,
            "StemV": 80,
            "FontFile2": _stream(doc, content, f"file:{self.name}", Length1=len(content)),
        }
        widths = [
            round(self.font.type.get_glyph_h_advance(glyph) * 1000 / em) for glyph in self._numbers
        ]
        cid = {
            "Type": "/Font",
            "Subtype": "/CIDFontType2",
            "BaseFont": pdfdoc.PDFName(name),
            "CIDSystemInfo": pdfdoc.PDFDictionary(
                {
                    "Registry": pdfdoc.PDFString("Adobe"),
                    "Ordering": pdfdoc.PDFString("Identity"),
                    "Supplement": 0,
                }
            ),
            "FontDescriptor": doc.Reference(
                pdfdoc.PDFDictionary(descriptor), f"descriptor:{self.name}"
            ),
            "W": pdfdoc.PDFArray([1, pdfdoc.PDFArray(widths)]),
            "CIDToGIDMap": _stream(doc, places, f"places:{self.name}"),
        }
        font = {
            "Type": "/Font",
            "Subtype": "/Type0",
            "BaseFont": pdfdoc.PDFName(name),
            "Encoding": "/Identity-H",
            "DescendantFonts": pdfdoc.PDFArray(
                [doc.Reference(pdfdoc.PDFDictionary(cid), f"cid:{self.name}")]
            ),
            "ToUnicode": _stream(doc, self._map().encode(), f"text:{self.name}"),
        }
        doc.idToObject["BasicFonts"].dict[self.name] = pdfdoc.PDFDictionary(font)

    def _subset(self) -> tuple[bytes, bytes]:
        """The font with the glyphs of this file, and where each is in it."""
        wanted = hb.SubsetInput()
        wanted.glyph_set.update(self._numbers)
        wanted.drop_table_tag_set.update(int.from_bytes(tag.encode(), "big") for tag in DROPPED)
        wanted.flags = hb.SubsetFlags.NO_HINTING | hb.SubsetFlags.NO_LAYOUT_CLOSURE
        if self.font.face.axis_infos:
            wanted.pin_all_axes_to_default(self.font.face)
            if self.font.is_bold:
                wanted.pin_axis_location(self.font.face, "wght", 700)
        plan = hb.SubsetPlan(self.font.face, wanted)
        placed = plan.old_to_new_glyph_mapping
        places = [0, *(placed[glyph] for glyph in self._numbers)]
        return plan.execute().blob.data, b"".join(place.to_bytes(2, "big") for place in places)

    def _map(self) -> str:
        rows = [f"<{at:04X}> <{_utf16(text)}>" for at, text in sorted(self._texts.items())]
        parts = [rows[at : at + 100] for at in range(0, len(rows), 100)]
        body = "".join(
            f"{len(part)} beginbfchar\n" + "\n".join(part) + "\nendbfchar\n" for part in parts
        )
        return f"{MAP_HEAD}{body}endcmap CMapName currentdict /CMap defineresource pop end end"


class Embedding:
    """The fonts of one file."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._fonts: dict[Font, Embedded] = {}

    def draw_latin(self, text: str, face: str, *, x: float, y: float, size_pt: float) -> None:
        """Draw a line that a face of the library has all of, in black, its baseline here."""
        font, doc = pdfmetrics.getFont(face), self._canvas._doc
        # Each subset has the letters of ASCII in its first 128 places or has none of them.
        parts = [(0, text)] if text.isascii() else font.splitString(text, doc)
        shown = " ".join(
            f"{font.getSubsetInternalName(subset, doc)} {size_pt:g} Tf ({_escaped(part)}) Tj"
            for subset, part in parts
        )
        self._canvas._code.append(f"0 g BT {x:.3f} {y:.3f} Td {shown} ET")

    def draw(self, line: Shaped, *, x: float, y: float, size_pt: float) -> None:
        """Draw a line, its baseline beginning here, in points of the page."""
        size = size_pt * line.scale
        y += line.rise * size_pt
        code = [f"/Span <</ActualText <FEFF{_utf16(line.text)}>>> BDC q 0 g 0 G"]
        for run in line.runs:
            font = self._embedded(run.font)
            stroke = f"2 Tr {STROKE * size:.3f} w" if run.font.is_stroked else "0 Tr"
            shown = _shown(font, run, size)
            code.append(f"BT {stroke} /{font.name} {size:.3f} Tf {x:.3f} {y:.3f} Td {shown} ET")
            x += size * sum(glyph.advance for glyph in run.glyphs)
        self._canvas._code.append("\n".join([*code, "Q EMC"]))

    def _embedded(self, font: Font) -> Embedded:
        if font not in self._fonts:
            self._fonts[font] = Embedded(font, f"N{len(self._fonts) + 1}")
            self._canvas._doc.delayedFonts.append(self._fonts[font])
        return self._fonts[font]


def _shown(font: Embedded, run: Run, size: float) -> str:
    """Operators that show the glyphs of a run, each moved as it was shaped."""
    parts, rise = [], 0.0
    items: list[str] = []
    for glyph in run.glyphs:
        if glyph.y != rise:
            parts.append(f"[{' '.join(items)}] TJ {glyph.y * size:.3f} Ts")
            items, rise = [], glyph.y
        x = glyph.x * 1000
        after = font.width(glyph) - glyph.advance * 1000 + x
        items += [f"{-x:.0f}"] * (abs(x) >= 1) + [f"<{font.number(glyph):04X}>"]
        items += [f"{after:.0f}"] * (abs(after) >= 1)
    return " ".join([*parts, f"[{' '.join(items)}] TJ", *(["0 Ts"] if rise else [])])


def _escaped(text: str | bytes) -> str:
    """A string of a PDF; bytes are places in a subset."""
    if isinstance(text, bytes):
        text = text.decode("latin-1")
    return text.translate(ESCAPES)


def _utf16(text: str) -> str:
    return text.encode("utf-16-be").hex().upper()


def _tag(name: str) -> str:
    """Six letters, as a subset is marked."""
    return "".join(chr(65 + int(digit)) for digit in name[1:].rjust(6, "0"))


def _stream(doc: Any, content: bytes, name: str, **fields: int) -> Any:
    stream = pdfdoc.PDFStream()
    stream.content = content
    stream.dictionary.dict.update(fields)
    stream.filters = [pdfdoc.PDFZCompress]
    return doc.Reference(stream, name)
