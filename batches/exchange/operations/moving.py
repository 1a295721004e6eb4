"""A whole shop comes in: every row as it was, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from pathlib import Path

from django.conf import settings

from batches.exchange.rules.moving_about import UPLOADS, About, FolderRefusedError
from batches.exchange.selectors.moving import copy_files, files_below, moving_tables
from batches.exchange.selectors.moving_in import (
    dangling,
    problem_of_standing,
    problems_between,
    problems_of_files,
)
from batches.exchange.selectors.proofs import floor_proofs
from batches.exchange.steps.moving import (
    in_safe_order,
    insert_sheet,
    set_sequences,
)
from inventory.stock.selectors.proofs import ledger_proofs
from shopfloor.operation import operation
from shopfloor.statistics import look_over
from shopfloor.turns import lock_tables


@operation
def take_in_shop(*, folder: Path, about: About, on_rows: Callable[[int], None]) -> None:
    """Make an empty shop the one that a folder holds, and prove it.

    Args:
        folder: What `manage.py export` wrote.
        about: What it says of itself.
        on_rows: Told how many rows were just inserted.

    Raises:
        FolderRefusedError: something stands here already, the folder is not as it was exported,
            a row is refused, or a proof finds a difference; it says which.
    """
    for problem in problems_between(about):
        raise FolderRefusedError(problem)
    tables = moving_tables(has_sign_ins=about.has_sign_ins)
    lock_tables((table.model for table in tables), "SHARE ROW EXCLUSIVE")
    if standing := problem_of_standing(tables):
        raise FolderRefusedError(standing)
    for wrong in problems_of_files(about, tables, folder):
        raise FolderRefusedError(wrong)
    for table in in_safe_order(tables):
        for count in insert_sheet(table, folder / table.sheet.file):
            on_rows(count)
    look_over(table.model._meta.db_table for table in tables)
    if pointing_nowhere := dangling(tables):
        raise FolderRefusedError(pointing_nowhere)
    set_sequences(tables)
    _prove()
    copy_files(files_below(folder / UPLOADS), Path(settings.MEDIA_ROOT))


def _prove() -> None:
    for proof in chain(ledger_proofs(), floor_proofs()):
        for difference in proof.differences:
            raise FolderRefusedError(
                f"The sheets do not agree with each other. {proof.title}, but: {difference}"
            )
