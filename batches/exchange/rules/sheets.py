"""What a sheet is: its columns, what is unique in it, which rows belong together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from batches.exchange.rules.kinds import Kind


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, how its cells are written, what it is for."""

    name: str
    kind: Kind
    about: str
    required: bool = False


class AmountColumns(NamedTuple):
    """Columns that are an amount together, of the item that a third one names.

    Attributes:
        in_parts: Pieces may be parts of one: an insert that serves two lures.
    """

    amount: str
    unit: str
    item: str
    in_parts: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet.

    Attributes:
        name: Its file is `name.csv`.
        about: What a row of it is.
        columns: In the order in which they are explained; a file may have them in any.
        key: Columns whose values, together, stand once in the file.
        gives: The column whose codes others may name, and that must be new to the shop.
        kept_as: What its codes are the codes of, if not of the sheet itself: `lots`.
        group: Rows with the same value here are one document.
        shared: Columns that say the same in all rows of a document.
        amounts: Columns that are an amount together.
    """

    name: str
    about: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    gives: str = ""
    kept_as: str = ""
    group: str = ""
    shared: tuple[str, ...] = ()
    amounts: tuple[AmountColumns, ...] = ()

    @property
    def file(self) -> str:
        """The name of its file."""
        return f"{self.name}.csv"

    @property
    def space(self) -> str:
        """Among what the codes that it gives are looked up."""
        return self.kept_as or self.name

    def has_column(self, name: str) -> bool:
        """Whether there is a column of that name."""
        return any(column.name == name for column in self.columns)

    def column(self, name: str) -> Column:
        """The column of that name."""
        return next(column for column in self.columns if column.name == name)
