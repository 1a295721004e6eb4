"""Pages of counting."""

from __future__ import annotations

from shopfloor.models import User
from tests.inventory.reorder.conftest import hold_lot_of
from tests.inventory.stock.conftest import NOON
from tests.pages import browse, text_of


def test_what_is_due_is_listed_and_how_right_the_records_were_is_told(
    lead: User, hook: object
) -> None:
    hold_lot_of(lead, 500, at=NOON)
    client = browse(lead)
    text = text_of(client.get("/counting/"))
    assert "HOOK-6" in text
    assert "1 in all" in text
    classes = client.get("/counting/classes/?last_on=2026-04-01")
    assert "By class" in text_of(classes)
    wrong = client.get("/counting/classes/?last_on=never")
    assert wrong.status_code == 422
    assert 'value="never"' in wrong.content.decode()
