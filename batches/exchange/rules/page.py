"""The page of docs/import.md that explains every sheet, made of the declarations themselves."""

from __future__ import annotations

from collections.abc import Iterable

from batches.exchange.rules.sheets import Column, Sheet


def sheets_explained(sheets: Iterable[Sheet]) -> str:
    """A section a sheet, in Markdown."""
    return "\n".join(_section(sheet) for sheet in sheets)


def _section(sheet: Sheet) -> str:
    lines = [f"### `{sheet.file}`", "", sheet.about, ""]
    lines += ["| Column | Holds | Meaning |", "| --- | --- | --- |"]
    lines += [_line(column) for column in sheet.columns]
    if sheet.shared:
        names = ", ".join(f"`{name}`" for name in sheet.shared)
        lines += ["", f"The same in all rows of one `{sheet.group}`: {names}."]
    return "\n".join([*lines, ""])


def _line(column: Column) -> str:
    name = f"**`{column.name}`**" if column.required else f"`{column.name}`"
    return f"| {name} | {column.kind.words} | {column.about} |"
