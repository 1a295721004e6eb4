"""The words of `docs/words.md` for a page: a word has one home, and people read the same there."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

_FILE = Path(__file__).parents[1] / "docs" / "words.md"


class Word(NamedTuple):
    """A word, or several that belong together, and what they mean."""

    words: str
    meaning: str


@cache
def glossary() -> list[Word]:
    """The first table of the file, in its order."""
    return list(_rows(_FILE.read_text(encoding="utf-8")))


def _rows(text: str) -> Iterator[Word]:
    lines = iter(text.splitlines())
    for line in lines:
        if line.startswith("| ---"):
            break
    for line in lines:
        if not line.startswith("|"):
            return
        words, meaning = (cell.strip().replace("`", "") for cell in line.strip("|").split("|"))
        yield Word(words, meaning)
