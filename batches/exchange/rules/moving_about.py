"""`about.json`: what a folder of a moved shop says about itself. Written last, read first."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, NamedTuple

from batches.exchange.rules.problems import Problem

ABOUT_FILE: Final = "about.json"
UPLOADS: Final = "uploads"
FORMAT: Final = 1


class FolderRefusedError(Exception):
    """A folder that is not what an export wrote, or that this shop cannot become.

    Only commands meet it, so it has no code for programs.
    """

    def __init__(self, problem: Problem | str) -> None:
        super().__init__(f"Nothing was imported. {problem}")


class Digest(NamedTuple):
    """What a file must be.

    Attributes:
        rows: Rows of a sheet without its header; of an upload, its bytes.
        sha256: Of its bytes, hex.
    """

    rows: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the folder holds and where it comes from.

    Attributes:
        exported_at: RFC 3339, UTC.
        database: Where it comes from: sqlite or postgresql.
        currency: The label of all values.
        time_zone: The zone whose days are the shop's.
        is_demo: Whether it is the made-up shop.
        has_sign_ins: Whether passwords and tokens came along.
        migrations: State of the tables: `inventory.0001_initial`.
        sheets: By file.
        references: By file, which column points at which file; for whoever reads them elsewhere.
        uploads: By path below `uploads/`, parted by slashes.
        format: Of the whole folder.
    """

    exported_at: str
    database: str
    currency: str
    time_zone: str
    is_demo: bool
    has_sign_ins: bool
    migrations: Sequence[str]
    sheets: Mapping[str, Digest]
    references: Mapping[str, Mapping[str, str]]
    uploads: Mapping[str, Digest]
    format: int = FORMAT

    @property
    def row_count(self) -> int:
        """Rows of all sheets."""
        return sum(sheet.rows for sheet in self.sheets.values())

    def written(self) -> str:
        """The text of the file."""
        facts = asdict(self)
        for part in ("sheets", "uploads"):
            facts[part] = {name: each._asdict() for name, each in sorted(facts[part].items())}
        return json.dumps(facts, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def read_about(text: str) -> About:
    """What the file says.

    Raises:
        ValueError: in words, what is wrong with it.
    """
    try:
        facts: dict[str, Any] = json.loads(text)
        if facts["format"] != FORMAT:
            raise ValueError(
                f"It is of format {facts['format']}; this program reads format {FORMAT}. "
                "Use a newer program."
            )
        for part in ("sheets", "uploads"):
            facts[part] = {name: Digest(**each) for name, each in facts[part].items()}
        about = About(**facts)
        sizes = [each.rows for each in (*about.sheets.values(), *about.uploads.values())]
        if not all(isinstance(size, int) for size in sizes):
            raise TypeError
    except (json.JSONDecodeError, AttributeError, KeyError, TypeError) as error:
        raise ValueError("It is not as an export writes it. Export the shop again.") from error
    return about
