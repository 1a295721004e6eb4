"""What the cells of one row must say together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Final

from batches.exchange.rules.problems import Problem
from batches.exchange.rules.reading import Row

_PART_OF: Final = {"cavity": "mold", "station": "wheel"}
_NEEDS_REASON: Final = ("hold", "release", "dispose")


def row_problems(row: Row) -> Iterator[Problem]:
    """Contradictions within a row. Cells that could not be read are not judged again."""
    for columns in row.sheet.amounts:
        yield from _half(row, columns.amount, columns.unit)
    rule = _RULES.get(row.sheet.name)
    if rule is not None:
        yield from rule(row)


def _half(row: Row, one: str, other: str) -> Iterator[Problem]:
    for filled, empty in ((one, other), (other, one)):
        if filled in row.texts and empty not in row.texts and not row.sheet.column(empty).required:
            yield row.problem(empty, f"It is empty, but {filled} is filled. Fill both or none.")


def _equipment(row: Row) -> Iterator[Problem]:
    kind = row["kind"]
    whole = _PART_OF.get(kind)
    if whole and not (row["part_of"] and row["number"]):
        yield row.problem("kind", f"A {kind} needs part_of, its {whole}, and its number there.")
    if kind and not whole and (row["part_of"] or row["number"]):
        yield row.problem("kind", "Only a cavity or a station has part_of and number.")
    if row["parts"] and kind not in {"mold", "wheel", None}:
        yield row.problem("parts", "Only a mold or a wheel has parts.")


def _offer(row: Row) -> Iterator[Problem]:
    prices, least = row["prices"], row["packs_min"] or 1
    if prices and list(prices) != sorted(prices):
        yield row.problem("prices", "Give them in order, from few packs to many.")
    elif prices and min(prices) > least:
        yield row.problem("prices", f"There is no price for {least}, the fewest packs.")


def _bill(row: Row) -> Iterator[Problem]:
    if "amount" not in row.texts and "batch_amount" not in row.texts:
        yield row.problem("amount", "Give an amount a piece, an amount a batch, or both.")
    if row["value_ratio"] and row["role"] != "by_product":
        yield row.problem("value_ratio", "Only a by_product carries off a share of the value.")
    if row["role"] == "by_product" and (row["loss_ratio"] or row["alternatives"]):
        yield row.problem("role", "A by_product has no loss_ratio and no alternatives.")


def _opening_lot(row: Row) -> Iterator[Problem]:
    if row["owner"] and row["value"]:
        yield row.problem("value", "A lot of somebody else has no value here. Leave it empty.")


def _lot_event(row: Row) -> Iterator[Problem]:
    event = row["event"]
    if event == "move" and "place" not in row.texts:
        yield row.problem("place", "Say where it was moved.")
    if event != "move" and "place" in row.texts:
        yield row.problem("place", "Only a move has a place.")
    if event in _NEEDS_REASON and "reason" not in row.texts:
        yield row.problem("reason", "Say why.")
    if event in {"hold", "release"} and "amount" in row.texts:
        yield row.problem("amount", f"A {event} is of the whole lot. Leave it empty.")


def _run(row: Row) -> Iterator[Problem]:
    is_read = all(name in row.cells or name not in row.texts for name in ("good", "scrap"))
    if is_read and not (row["good"] or row["scrap"]):
        yield row.problem("good", "Give at least one good or scrapped piece.")


def _shipment(row: Row) -> Iterator[Problem]:
    if ("box" in row.texts) == ("lot" in row.texts):
        yield row.problem("box", "Give a box or a lot, one of the two.")
    elif "pieces" in row.texts and "box" in row.texts:
        yield row.problem("pieces", "A box leaves with all in it. Leave it empty.")


def _check(row: Row) -> Iterator[Problem]:
    if row["lot"] and row["lot"].by != "batch" and "entry_at" in row.texts:
        yield row.problem("entry_at", "A lot is of one entry already. Only batch:CODE has it.")


def _complaint(row: Row) -> Iterator[Problem]:
    named = [name for name in ("box", "lot", "item", "model") if name in row.texts]
    if len(named) != 1:
        yield row.problem("box", "Give a box, a lot, an item or a model, one of the four.")
        return
    is_wide = named[0] in {"item", "model"}
    for name in ("bought_first_on", "bought_last_on"):
        if is_wide and name not in row.texts:
            yield row.problem(name, f"Say between which days the {named[0]} was bought.")
        if not is_wide and name in row.texts:
            yield row.problem(name, f"A {named[0]} says itself when it left. Leave it empty.")


def _return(row: Row) -> Iterator[Problem]:
    if "box" not in row.texts and "lot" not in row.texts:
        yield row.problem("box", "Give the box that they left in, or the lot, or both.")


_RULES: Final[Mapping[str, Callable[[Row], Iterator[Problem]]]] = MappingProxyType(
    {
        "equipment": _equipment,
        "offers": _offer,
        "bills": _bill,
        "opening_lots": _opening_lot,
        "lot_events": _lot_event,
        "runs": _run,
        "checks": _check,
        "shipments": _shipment,
        "complaints": _complaint,
        "returns": _return,
    }
)
