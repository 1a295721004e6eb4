"""docs/api.md names every refusal: its code, its status and what it means."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from pathlib import Path

import batches
import inventory
import shopfloor
from shopfloor.errors import ShopError
from shopfloor.problems import FRAME_PROBLEMS

PAGE = Path(__file__).parents[1] / "docs" / "api.md"


def refusals(kind: type[ShopError] = ShopError) -> Iterator[type[ShopError]]:
    for inner in kind.__subclasses__():
        yield inner
        yield from refusals(inner)


def problem_table() -> str:
    """The table of the page, made of the code; a code that several share stands once."""
    for floor in (shopfloor, inventory, batches):
        for module in pkgutil.walk_packages(floor.__path__, f"{floor.__name__}."):
            if ".migrations" not in module.name:
                importlib.import_module(module.name)
    rows = {}
    for kind in refusals():
        if kind.__module__.partition(".")[0] in {"shopfloor", "inventory", "batches"}:
            words = (kind.__doc__ or "").partition("\n")[0]
            rows[kind.code] = f"| `{kind.code}` | {kind.status} | {words} |"
    head = ["| code | status | what it means |", "| --- | --- | --- |"]
    return "\n".join([*head, *(rows[code] for code in sorted(rows))])


def frame_table() -> str:
    """What any address may answer, in its order."""
    rows = [f"| `{kind.code}` | {kind.status} | {kind.detail} |" for kind in FRAME_PROBLEMS]
    return "\n".join(["| code | status | what it means |", "| --- | --- | --- |", *rows])


def test_the_page_has_every_refusal_of_the_code_and_no_other() -> None:
    assert problem_table() in PAGE.read_text(encoding="utf-8")


def test_the_page_has_what_any_address_may_answer() -> None:
    assert frame_table() in PAGE.read_text(encoding="utf-8")
