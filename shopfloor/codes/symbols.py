"""Text into the modules of a Code 128, Data Matrix or QR symbol. Ink is not here.

`FNC1` in a text stands for the function character: first, it makes the symbol a GS1 one; later, it
ends an element. Readers report the later ones as the same ASCII 29. A QR here is always a plain
one: it carries an address.
"""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from typing import Final, NamedTuple

from pystrich.datamatrix import FNC1 as FNC1_CODEWORD
from pystrich.datamatrix import DataMatrixCodeword, DataMatrixData, DataMatrixEncoder
from pystrich.qrcode import QRCodeData, QRCodeEncoder

from shopfloor.codes.errors import SymbolTextError
from shopfloor.codes.gs1.elements import FNC1

Modules = tuple[tuple[bool, ...], ...]
"""Rows from the top; True is dark."""

CODE128_QUIET_MODULES: Final = 10
"""Clear modules at each side of a Code 128 symbol (GS1 General Specifications, GS1-128)."""
DATAMATRIX_QUIET_MODULES: Final = 1
"""Clear modules around a Data Matrix symbol (GS1 DataMatrix Guideline)."""
QR_QUIET_MODULES: Final = 4
"""Clear modules around a QR symbol (common practice, no source)."""

CODE128_TEXT_MAX: Final = 80
DATAMATRIX_TEXT_MAX: Final = 300
QR_TEXT_MAX: Final = 300
"""Far past any label of ours; keeps a slip from becoming a symbol as wide as the sheet."""

_KEPT_MAX: Final = 512
"""Symbols kept: what is measured before it is drawn, or drawn on many labels, is made once."""

_START: Final = {"B": 104, "C": 105}
_SWITCH_TO: Final = {"B": 100, "C": 99}
_FNC1_VALUE: Final = 102
_STOP: Final = 106
_CHECK_MODULUS: Final = 103

# Bar, space, bar ... widths of the values 0 to 106 (ISO/IEC 15417); the stop has a closing bar.
_WIDTHS_TEXT: Final = (
    "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 "
    "122132 122231 113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 "
    "321221 312212 322112 322211 212123 212321 232121 111323 131123 131321 112313 132113 132311 "
    "211313 231113 231311 112133 112331 132131 113123 113321 133121 313121 211331 231131 213113 "
    "213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 111422 "
    "121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 "
    "241112 134111 111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 "
    "412121 111143 111341 131141 114113 114311 411113 411311 113141 114131 311141 411131 211412 "
    "211214 211232 2331112"
)
_WIDTHS: Final = tuple(_WIDTHS_TEXT.split())


class SymbolKind(StrEnum):
    """What is drawn."""

    CODE128 = "Code 128"
    DATAMATRIX = "Data Matrix"
    QR = "QR"


class SizeModules(NamedTuple):
    """A symbol with its quiet zones, in modules. Bars are as high as one likes: None."""

    width: int
    height: int | None


def size_modules(kind: SymbolKind, text: str) -> SizeModules:
    """How wide and high a symbol is, quiet zones within, known before it is drawn.

    Raises:
        SymbolTextError: the symbol cannot carry the text.
    """
    if kind is SymbolKind.CODE128:
        return SizeModules(sum(code128_widths(text)) + 2 * CODE128_QUIET_MODULES, None)
    if kind is SymbolKind.DATAMATRIX:
        side = len(datamatrix_modules(text)) + 2 * DATAMATRIX_QUIET_MODULES
    else:
        side = len(qr_modules(text)) + 2 * QR_QUIET_MODULES
    return SizeModules(side, side)


def code128_values(text: str) -> tuple[int, ...]:
    """Symbol characters from start to stop, the check character before the stop; as few as can be.

    Code sets B and C only: control characters, which need A, are refused.

    Raises:
        SymbolTextError: empty, longer than `CODE128_TEXT_MAX`, or not plain printable ASCII.
    """
    _check_text(text, length_max=CODE128_TEXT_MAX, symbol="Code 128")
    values = _shortest(text)
    return (*values, code128_check(values), _STOP)


def code128_check(values: tuple[int, ...]) -> int:
    """The check character of start and data: the start once, then each value times its place.

    Source: ISO/IEC 15417.
    """
    weighted = sum(place * value for place, value in enumerate(values))
    return (values[0] + weighted) % _CHECK_MODULUS


@lru_cache(maxsize=_KEPT_MAX)
def code128_widths(text: str) -> tuple[int, ...]:
    """Widths in modules, bar first, then space and bar by turns; their sum is the symbol's width.

    11 a symbol character and 13 for the stop, without quiet zones. Scale by a whole number of
    printer dots: rounding single bars makes symbols that do not scan.

    Raises:
        SymbolTextError: see `code128_values`.
    """
    return tuple(int(width) for value in code128_values(text) for width in _WIDTHS[value])


@lru_cache(maxsize=_KEPT_MAX)
def datamatrix_modules(text: str) -> Modules:
    """Rows from the top, True is dark; square, finder pattern included, without quiet zone.

    Raises:
        SymbolTextError: empty, longer than `DATAMATRIX_TEXT_MAX`, or not plain printable ASCII.
    """
    _check_text(text, length_max=DATAMATRIX_TEXT_MAX, symbol="Data Matrix")
    segments: list[str | DataMatrixCodeword] = []
    for place, chunk in enumerate(text.split(FNC1)):
        if place:
            segments.append(FNC1_CODEWORD)
        segments.append(chunk)
    data = DataMatrixData(*segments, encoding="ascii")
    # The encoder's own matrix lacks the finder pattern; its renderer adds it.
    matrix = DataMatrixEncoder(data, quiet_zone=0, symbol_shape="square").init_renderer().matrix
    return tuple(tuple(cell == 1 for cell in row) for row in matrix)


@lru_cache(maxsize=_KEPT_MAX)
def qr_modules(text: str) -> Modules:
    """Rows from the top, True is dark, without quiet zone; of error correction level M.

    Capital letters and digits take less room than small letters.

    Raises:
        SymbolTextError: empty, longer than `QR_TEXT_MAX`, or not plain printable ASCII.
    """
    _check_text(text, length_max=QR_TEXT_MAX, symbol="QR")
    if FNC1 in text:
        raise SymbolTextError(
            "A QR here carries an address or plain text. For GS1 data take a Digital Link or a "
            "Data Matrix.",
            symbol="QR",
            text=text[:30],
        )
    matrix = QRCodeEncoder(QRCodeData(text, encoding="ascii"), ecl="M").matrix
    return tuple(tuple(cell == 1 for cell in row) for row in matrix)


def _shortest(text: str) -> tuple[int, ...]:
    """Start and data in the fewest symbol characters: the best way to each place, in each set."""
    # best[place][code set]: the values that bring us there, with that set active.
    best: list[dict[str, tuple[int, ...]]] = [{} for _ in range(len(text) + 1)]
    best[0] = {code_set: (start,) for code_set, start in _START.items()}
    for place in range(len(text)):
        for code_set, other in (("B", "C"), ("C", "B")):
            if other in best[place]:
                _keep_shorter(best[place], code_set, (*best[place][other], _SWITCH_TO[code_set]))
        for code_set, so_far in best[place].items():
            taken, value = _next_value(text, place, code_set)
            if taken:
                _keep_shorter(best[place + taken], code_set, (*so_far, value))
    return min(best[-1].values(), key=len)


def _next_value(text: str, place: int, code_set: str) -> tuple[int, int]:
    """How many characters the next value carries in a code set (0: none can), and the value."""
    if text[place] == FNC1:
        return 1, _FNC1_VALUE
    if code_set == "B":
        return 1, ord(text[place]) - ord(" ")
    pair = text[place : place + 2]
    return (2, int(pair)) if len(pair) == 2 and pair.isdigit() else (0, 0)  # noqa: PLR2004


def _keep_shorter(ways: dict[str, tuple[int, ...]], code_set: str, way: tuple[int, ...]) -> None:
    if code_set not in ways or len(way) < len(ways[code_set]):
        ways[code_set] = way


def _check_text(text: str, *, length_max: int, symbol: str) -> None:
    facts: dict[str, object] = {"symbol": symbol, "text": text[:30]}
    if not text.strip(FNC1):
        raise SymbolTextError(f"There is nothing to print as {symbol}.", **facts)
    if len(text) > length_max:
        raise SymbolTextError(
            f"The text is too long for a {symbol} label: {len(text)} characters, at most "
            f"{length_max}.",
            **facts,
            length_max=length_max,
        )
    if not all(" " <= character <= "~" or character == FNC1 for character in text):
        raise SymbolTextError(
            f"A {symbol} here carries plain letters, digits and signs only (ASCII).", **facts
        )
    # Anywhere else than first, readers take the symbol for another application's.
    if FNC1 in text and not text.startswith(FNC1):
        raise SymbolTextError(f"A GS1 {symbol} begins with FNC1.", **facts)
