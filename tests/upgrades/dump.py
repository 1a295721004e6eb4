"""A small full shop, as the migrations of this moment keep it, written as portable SQL.

    python -m tests.upgrades.dump >tests/upgrades/NAME.sql

Run it before a release, or before a migration that moves data is added; a dump is never made anew.
It makes the shop in a temporary SQLite file, whatever DATABASE_URL says. Its first lines name the
migrations; then comes one INSERT a row, which both databases read.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from datetime import date
from tempfile import TemporaryDirectory
from typing import Any

PASSWORD = "seven wet otters"
FLOORS = ("shopfloor", "inventory", "batches")


def main() -> None:
    """Make the shop and print it."""
    with TemporaryDirectory() as folder:
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "shopfloor.settings",
            "SHOP_DATA_DIR": folder,
            "SHOP_SECRET_KEY": "of-a-shop-that-is-made-up-and-thrown-away",
            "SHOP_ALLOWED_HOSTS": "testserver",
            "SHOP_TIME_ZONE": "America/Chicago",
        }
        os.environ.pop("DATABASE_URL", None)
        import django  # noqa: PLC0415 - settings first

        django.setup()
        furnish()
        sys.stdout.writelines(f"{line}\n" for line in lines())


def furnish() -> None:
    """Something of every kind: see tests/batches/exchange/small.py, and what is done here."""
    # Tables can be imported only when Django is up.
    from django.core.management import call_command  # noqa: PLC0415
    from rest_framework.test import APIClient  # noqa: PLC0415

    from batches.exchange.operations.importing import import_sheets  # noqa: PLC0415
    from batches.packing.models import Shipment  # noqa: PLC0415
    from batches.packing.operations import Back, take_back_from_customer  # noqa: PLC0415
    from batches.runs.models import Entry  # noqa: PLC0415
    from batches.runs.operations import reverse  # noqa: PLC0415
    from inventory.reorder.operations import set_reorder_policy  # noqa: PLC0415
    from inventory.stock import operations as stock  # noqa: PLC0415
    from shopfloor import operations as people  # noqa: PLC0415
    from shopfloor.selectors import person_named  # noqa: PLC0415
    from shopfloor.stamp import Stamp  # noqa: PLC0415
    from tests.batches.exchange.small import CLOCK, SMALL, checked  # noqa: PLC0415

    def post(sheets: dict[str, str]) -> None:
        import_sheets(sheets=checked(sheets), by=owner, now=now, on_rows=lambda _: None)

    now = CLOCK.now
    call_command("migrate", verbosity=0)
    people.create_first_owner(username="olga", display_name="Olga", password=PASSWORD, at=now)
    owner = person_named("olga")
    stamp = Stamp(by=owner, at=now, now=now, reason="to have one of each")
    post(dict(SMALL))
    runs = SMALL["runs.csv"].partition("\n")[0]
    wrong = ["MD2", "HALF", "2026-03-30 10:00", "10", "", "item:RESIN=100 g", "M1", *[""] * 5]
    post({"runs.csv": f"{runs}\n{','.join(wrong[: runs.count(',') + 1])}\n"})
    reverse(entry_code=Entry.objects.get(batch__code="MD2").code, stamp=stamp)
    sample = Shipment.objects.order_by("pk").last()
    assert sample is not None
    line = sample.lines.get()
    take_back_from_customer(
        shipment_code=sample.code,
        lines=[Back(line.lot.code, line.qty_base)],
        place_code="SHELF",
        stamp=stamp,
    )
    stock.count_lots(found=[stock.Found("ADHB-1", 484_000)], stamp=stamp)
    stock.adjust_lot(lot_code="RES-1", qty_base=-1000, stamp=stamp)
    stock.revalue_lot(lot_code="RES-1", value_micro=5_000_000, stamp=stamp)
    stock.dispose_of_lot(lot_code="ADHA-1", qty_base=2000, stamp=stamp)
    stock.split_off(lot_code="RES-1", qty_base=1_000_000, stamp=stamp, place_code="BENCH")
    hold = stock.hold_lot(lot_code="ADHB-1", stamp=stamp)
    stock.release_hold(hold_code=hold.code, stamp=stamp)
    stock.close_books(through=date(2026, 2, 28), stamp=stamp)
    set_reorder_policy(item_code="HOOK", fields={"review_days": 7}, by=owner, at=now)
    token = people.issue_token(username="olga", name="a scale", by=owner, at=now)
    client = APIClient(headers={"Authorization": f"Token {token.text}", "Idempotency-Key": "one"})
    answer = client.post("/api/v1/places/", {"code": "S2", "name": "Shelf 2", "kind": "shelf"})
    assert answer.status_code == 201, answer.content
    people.let_sign_in(username="hand", is_active=False, by=owner, at=now)
    people.blank_name(username="hand", by=owner, at=now)


def lines() -> Iterator[str]:
    """The migrations, and every row of our tables."""
    from django.apps import apps  # noqa: PLC0415 - as above
    from django.db import connection  # noqa: PLC0415

    with connection.cursor() as cursor:
        cursor.execute("SELECT app, name FROM django_migrations ORDER BY id")
        yield from (f"-- {app} {name}" for app, name in cursor.fetchall() if app in FLOORS)
        for floor in FLOORS:
            for model in apps.get_app_config(floor).get_models(include_auto_created=True):
                table = model._meta.db_table
                cursor.execute(f'PRAGMA table_info("{table}")')
                columns = {str(row[1]): str(row[2]) for row in cursor.fetchall()}
                names = ", ".join(f'"{name}"' for name in columns)
                cursor.execute(f'SELECT {names} FROM "{table}" ORDER BY 1')  # noqa: S608 - ours
                for row in cursor.fetchall():
                    values = ", ".join(map(literal, row, columns.values()))
                    yield f'INSERT INTO "{table}" ({names}) VALUES ({values});'  # noqa: S608 - ours


def literal(value: Any, declared: str) -> str:
    """A value as both databases read it."""
    if value is None:
        return "NULL"
    if declared == "bool":
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return repr(value)
    assert "\n" not in str(value), "a row is a line"
    return "'" + str(value).replace("'", "''") + "'"


if __name__ == "__main__":
    main()
