"""The same rows as an entry writes, by the driver alone: one transaction, nothing checked."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, NamedTuple
from uuid import uuid4

import psycopg
from django.db import connection

LOT_COLUMNS = (
    "code, item_id, place_id, owner, grade, disposition, supplier_lot_code, born_at, on_hand_base,"
    " value_micro, touched_at, splits"
)
ANSWER = json.dumps({"code": "E-2345", "lots": [["L-2345", "HANGER", "10", "0.010000"]] * 11})


class Job(NamedTuple):
    """What an entry of a batch is made of."""

    batch_id: int
    item_id: int
    place_id: int
    user_id: int
    reason_id: int
    equipment_id: int
    takes: Sequence[tuple[int, int]]
    good: int
    scrap: int


def connect() -> Any:
    """A connection of the driver, with the settings that ours has."""
    settings = connection.settings_dict
    if connection.vendor == "postgresql":
        return psycopg.connect(
            host=settings["HOST"], port=settings["PORT"], user=settings["USER"],
            password=settings["PASSWORD"], dbname=settings["NAME"], options="-c timezone=UTC",
        )  # fmt: skip
    bare = sqlite3.connect(settings["NAME"], isolation_level=None, timeout=20)
    for pragma in settings["OPTIONS"]["init_command"].split(";"):
        bare.execute(pragma)
    return bare


def write_entry(bare: Any, job: Job) -> None:
    """Write one entry."""
    is_postgresql = not isinstance(bare, sqlite3.Connection)
    cursor = bare.cursor()
    mark, lock = ("%s", " FOR UPDATE") if is_postgresql else ("?", "")

    def run(sql: str, *values: Any) -> Any:
        return cursor.execute(sql.replace("?", mark), values)

    now = str(datetime.now(UTC).replace(tzinfo=None))
    if not is_postgresql:
        cursor.execute("BEGIN IMMEDIATE")
    key_id = run(
        "INSERT INTO shopfloor_requestkey (user_id, key, fingerprint, created_at)"
        " VALUES (?, ?, ?, ?) RETURNING id",
        job.user_id, uuid4().hex, "0" * 64, now,
    ).fetchone()[0]  # fmt: skip
    run(f"SELECT * FROM batches_batch WHERE id = ?{lock}", job.batch_id).fetchone()  # noqa: S608
    ids = [lot_id for lot_id, _ in job.takes]
    marks = ", ".join("?" * len(ids))
    found = run(
        f"SELECT * FROM inventory_lot WHERE id IN ({marks}) ORDER BY id{lock}",  # noqa: S608 - ours
        *ids,
    ).fetchall()
    assert len(found) == len(ids)
    posting_id = run(
        "INSERT INTO inventory_posting (kind, at, recorded_at, by_id, reason, outside_kind,"
        " outside_micro, document_kind, document_code) VALUES"
        " ('made', ?, ?, ?, '', '', 0, 'batch', 'BENCH') RETURNING id",
        now, now, job.user_id,
    ).fetchone()[0]  # fmt: skip
    lot_id = run(
        f"INSERT INTO inventory_lot ({LOT_COLUMNS}) VALUES"  # noqa: S608 - ours
        " (?, ?, ?, '', 'first', 'released', '', ?, ?, ?, ?, 0) RETURNING id",
        f"BARE-{posting_id}", job.item_id, job.place_id, now, job.good, len(ids), now,
    ).fetchone()[0]  # fmt: skip
    moved = [(posting_id, taken, -qty, -1) for taken, qty in job.takes]
    moved.append((posting_id, lot_id, job.good, len(ids)))
    run(
        "INSERT INTO inventory_movement (posting_id, lot_id, qty_base, value_micro)"  # noqa: S608
        " VALUES " + ", ".join(["(?, ?, ?, ?)"] * len(moved)),
        *(value for row in moved for value in row),
    )
    rows = ", ".join(["(CAST(? AS bigint), CAST(? AS bigint))"] * len(ids))
    run(
        f"WITH v (id, qty) AS (VALUES {rows}) UPDATE inventory_lot SET"  # noqa: S608 - ours
        " on_hand_base = on_hand_base - v.qty, value_micro = value_micro - 1, touched_at = ?"
        " FROM v WHERE inventory_lot.id = v.id",
        *(value for row in job.takes for value in row),
        now,
    )
    run(
        "INSERT INTO batches_entry (posting_id, batch_id, done_by_id, good_base, scrapped_base,"
        " minutes) VALUES (?, ?, ?, ?, ?, 30)",
        posting_id, job.batch_id, job.user_id, job.good, job.scrap,
    )  # fmt: skip
    run(
        "INSERT INTO batches_entrytally (entry_id, grade, scrap_reason_id, equipment_id, qty_base)"
        " VALUES (?, 'first', NULL, ?, ?), (?, '', ?, NULL, ?)",
        posting_id, job.equipment_id, job.good, posting_id, job.reason_id, job.scrap,
    )  # fmt: skip
    run(
        "INSERT INTO batches_entryfactor (entry_id, equipment_id, name, value)"
        " VALUES (?, ?, '', ''), (?, NULL, 'humidity', '40')",
        posting_id, job.equipment_id, posting_id,
    )  # fmt: skip
    run("UPDATE shopfloor_requestkey SET status = 201, answer = ? WHERE id = ?", ANSWER, key_id)
    cursor.execute("COMMIT") if not is_postgresql else bare.commit()
