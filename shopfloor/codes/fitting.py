"""Which symbols fit a space, in whole printer dots: whole, split over two, or of another kind.

A module is never made smaller than its use allows: what does not fit is refused, with the room it
needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final, NamedTuple

from shopfloor.codes.errors import SymbolSpaceError, SymbolTextError
from shopfloor.codes.gs1.elements import ElementString
from shopfloor.codes.gs1.partners import check_together
from shopfloor.codes.symbols import SymbolKind, size_modules

DPIS: Final = (203, 300, 600)
"""What label printers have (common practice, no source)."""

NM_PER_INCH: Final = 25_400_000
GS1_128_WIDTH_MAX_NM: Final = 165_100_000
"""Widest GS1-128 with its quiet zones (GS1 General Specifications R18, p. 262)."""


class Use(StrEnum):
    """Where a symbol is to be read."""

    SHOP = "shop"
    DISTRIBUTION = "distribution"
    """On articles and boxes that pass through somebody's warehouse."""
    LOGISTICS = "logistics"
    """On a box or pallet that is moved under its SSCC."""


class Limits(NamedTuple):
    """What a use asks of a symbol, in nanometers.

    Attributes:
        module_min: Narrowest module of bars.
        module_max: Widest.
        height_min: Lowest bars.
    """

    module_min: int
    module_max: int
    height_min: int


LIMITS: Final[Mapping[Use, Limits]] = MappingProxyType(
    {
        # Common practice, no source: what a hand-held reader at a bench reads at once.
        Use.SHOP: Limits(250_000, 1_016_000, 6_000_000),
        # "Bar coding - getting it right" (GS1 UK, v7); height: a German page on GS1-128.
        Use.DISTRIBUTION: Limits(495_000, 1_016_000, 31_750_000),
        # Widest module from memory of the standard, no source; the rest as in distribution.
        Use.LOGISTICS: Limits(495_000, 940_000, 31_750_000),
    }
)
# A module of a 2D symbol is one and a half times a linear one's in the same setting (GS1 General
# Specifications R18, p. 321).
_2D_NUMERATOR: Final = 3
_2D_DENOMINATOR: Final = 2


class Space(NamedTuple):
    """Room on a label, in printer dots."""

    width_dots: int
    height_dots: int


@dataclass(frozen=True, slots=True)
class PlannedSymbol:
    """One symbol that fits.

    Attributes:
        kind: What to draw.
        text: What it carries, FNC1 included.
        human: The text beside it, one to one with what it carries.
        module_dots: Dots a module.
        width_dots: With its quiet zones.
        height_dots: With its quiet zones; of bars the least: they may be higher.
    """

    kind: SymbolKind
    text: str
    human: str
    module_dots: int
    width_dots: int
    height_dots: int


class Outcome(StrEnum):
    """How the content came to fit."""

    WHOLE = "whole"
    SPLIT = "split"
    """Over two symbols of the wanted kind, one above the other."""
    MOVED = "moved"
    """Into one symbol of another kind."""


@dataclass(frozen=True, slots=True)
class SymbolPlan:
    """What to draw, from the top."""

    outcome: Outcome
    symbols: tuple[PlannedSymbol, ...]


def symbol_plan(
    content: ElementString | str,
    *,
    kinds: Sequence[SymbolKind],
    space: Space,
    dpi: int,
    use: Use,
    text_dots: int = 0,
    beside: Sequence[ElementString] = (),
    module_dots_max: int | None = None,
) -> SymbolPlan:
    """Symbols that carry the content in a space, modules as large as fit.

    Args:
        content: GS1 data, which bars may carry in two symbols; or plain text.
        kinds: Wanted kind first; then those to move to.
        space: What there is for symbols and the text beside them.
        dpi: Of the printer.
        use: Decides the least module and height.
        text_dots: Height to keep free for the text under each symbol.
        beside: GS1 data of other symbols on the same thing.
        module_dots_max: No larger modules than that, unless the use asks for them.

    Raises:
        SymbolSpaceError: too little room for any; the facts say how much each would need.
        SymbolTextError: no kind can carry the content.
        Gs1PartnersError, Gs1RepeatedError, RestrictedNumberError: see `check_together`.
    """
    assert kinds
    assert dpi in DPIS
    if isinstance(content, ElementString):
        check_together(content, *beside)
    needs: list[dict[str, object]] = []
    refusal: SymbolTextError | None = None
    for kind in kinds:
        for parts in _ways(content, kind):
            try:
                ask = [
                    _ask(part, kind=kind, dpi=dpi, use=use).no_larger_than(module_dots_max)
                    for part in parts
                ]
            except SymbolTextError as error:
                refusal = refusal or error
                continue
            if planned := _fitted(ask, space=space, text_dots=text_dots):
                return SymbolPlan(_outcome(kind is kinds[0], planned), planned)
            needs.append(_need(ask, text_dots=text_dots, dpi=dpi))
    if not needs:
        assert refusal is not None
        raise refusal
    raise _refusal(content, needs, space=space, dpi=dpi)


class _Ask(NamedTuple):
    """One symbol to be, with the least and most it may take."""

    kind: SymbolKind
    text: str
    human: str
    modules: int
    dots_min: int
    dots_max: int
    height_min_dots: int | None

    @property
    def least(self) -> Space:
        """The least room it takes."""
        width = self.modules * self.dots_min
        return Space(width, self.height_min_dots or width)

    def no_larger_than(self, module_dots: int | None) -> _Ask:
        """The same, with modules of at most so many dots, as far as they scan."""
        if module_dots is None:
            return self
        return self._replace(dots_max=max(self.dots_min, min(self.dots_max, module_dots)))


def _ask(part: ElementString | str, *, kind: SymbolKind, dpi: int, use: Use) -> _Ask:
    """What one symbol takes.

    Raises:
        SymbolTextError: this kind cannot carry it, however large the label.
    """
    gs1 = part if isinstance(part, ElementString) else None
    text, human = (gs1.symbol_text, gs1.human) if gs1 else (str(part), str(part))
    limits = LIMITS[use]
    size = size_modules(kind, text)
    least, most, height = limits.module_min, limits.module_max, None
    if kind is SymbolKind.CODE128:
        height = _dots_at_least(limits.height_min, dpi)
        if gs1:
            most = min(most, GS1_128_WIDTH_MAX_NM // size.width)
    else:
        least = least * _2D_NUMERATOR // _2D_DENOMINATOR
        most = most * _2D_NUMERATOR // _2D_DENOMINATOR
    ask = _Ask(
        kind=kind,
        text=text,
        human=human,
        modules=size.width,
        dots_min=_dots_at_least(least, dpi),
        dots_max=most * dpi // NM_PER_INCH,
        height_min_dots=height,
    )
    is_too_long = gs1 and kind is SymbolKind.CODE128 and not gs1.fits_gs1_128
    if is_too_long or ask.dots_max < ask.dots_min:
        raise SymbolTextError(
            "A GS1-128 has at most 48 characters, identifiers and separators counted, and is at "
            "most 165.1 mm wide with modules that scan. Print less in it, or take a Data Matrix.",
            symbol="GS1-128",
            text=human[:90],
        )
    return ask


def _ways(
    content: ElementString | str, kind: SymbolKind
) -> Iterator[tuple[ElementString | str, ...]]:
    """The content in one symbol; then, in bars, GS1 data in the two that are narrowest."""
    yield (content,)
    if kind is SymbolKind.CODE128 and isinstance(content, ElementString):
        pairs = [pair for pair in _pairs(content) if all(part.fits_gs1_128 for part in pair)]
        yield from sorted(pairs, key=_width_modules)[:1]


def _pairs(content: ElementString) -> Iterator[tuple[ElementString, ElementString]]:
    elements = content.elements
    boxes = tuple(element for element in elements if element.ai == "00")
    if boxes and len(elements) > 1:
        # The number of a box stands alone and lowest (GS1 Logistics Label, GS1 Greece).
        rest = tuple(element for element in elements if element.ai != "00")
        yield ElementString(rest), ElementString(boxes)
        return
    for place in range(1, len(elements)):
        yield ElementString(elements[:place]), ElementString(elements[place:])


def _width_modules(pair: tuple[ElementString, ElementString]) -> int:
    return max(size_modules(SymbolKind.CODE128, part.symbol_text).width for part in pair)


def _fitted(
    ask: Sequence[_Ask], *, space: Space, text_dots: int
) -> tuple[PlannedSymbol, ...] | None:
    """All of them with the same module, as large as can be; None when they do not fit."""
    room = space.height_dots - len(ask) * text_dots
    # Of 2D symbols there is only ever one.
    side = space.width_dots if ask[0].height_min_dots else min(space.width_dots, room)
    dots = min(min(side // symbol.modules, symbol.dots_max) for symbol in ask)
    if dots < ask[0].dots_min:
        return None
    planned = tuple(
        PlannedSymbol(
            kind=symbol.kind,
            text=symbol.text,
            human=symbol.human,
            module_dots=dots,
            width_dots=dots * symbol.modules,
            height_dots=symbol.height_min_dots or dots * symbol.modules,
        )
        for symbol in ask
    )
    return planned if sum(symbol.height_dots for symbol in planned) <= room else None


def _outcome(is_wanted: bool, planned: Sequence[PlannedSymbol]) -> Outcome:  # noqa: FBT001
    if not is_wanted:
        return Outcome.MOVED
    return Outcome.WHOLE if len(planned) == 1 else Outcome.SPLIT


def _need(ask: Sequence[_Ask], *, text_dots: int, dpi: int) -> dict[str, object]:
    width = max(symbol.least.width_dots for symbol in ask)
    height = sum(symbol.least.height_dots + text_dots for symbol in ask)
    return {
        "symbol": ask[0].kind.value,
        "symbols": len(ask),
        "width_dots": width,
        "height_dots": height,
        "width_mm": _millimeters(width, dpi),
        "height_mm": _millimeters(height, dpi),
    }


def _refusal(
    content: ElementString | str,
    needs: list[dict[str, object]],
    *,
    space: Space,
    dpi: int,
) -> SymbolSpaceError:
    text = content.human if isinstance(content, ElementString) else content
    wants = "; ".join(
        f"as {need['symbol']}{' in two' if need['symbols'] == 2 else ''} it needs "  # noqa: PLR2004
        f"{need['width_mm']} x {need['height_mm']} mm"
        for need in needs
    )
    width, height = (_tenths(dots * 254 // dpi) for dots in space)
    return SymbolSpaceError(
        f"“{text[:60]}” does not fit {width} x {height} mm with modules that scan: {wants}. Take a "
        "larger label, or print less in it.",
        text=text[:300],
        width_dots=space.width_dots,
        height_dots=space.height_dots,
        needs=needs,
    )


def _dots_at_least(nanometers: int, dpi: int) -> int:
    return -(-nanometers * dpi // NM_PER_INCH)


def _millimeters(dots: int, dpi: int) -> str:
    """To a tenth, rounded up, so that what is asked for is enough."""
    return _tenths(-(-dots * 254 // dpi))


def _tenths(tenths: int) -> str:
    return f"{tenths // 10}.{tenths % 10}"
