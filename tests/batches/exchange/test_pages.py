"""The page that takes sheets: a look, what is wrong in its own grid, then all of it or nothing."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from batches.exchange.models import Import
from inventory.catalog.models import Place
from shopfloor.models import User

BACKEND = "django.contrib.auth.backends.ModelBackend"
GOOD = "code,name,kind\nSHELF-9,Shelf nine,shelf\n"
WRONG = "code,name,kind\nSHELF-8,Shelf eight,shelf\nSHELF-9,Shelf nine,cupboard\n"
HTMX = {"HX-Request": "true"}


@pytest.fixture
def desk(owner: User) -> Client:
    client = Client()
    client.force_login(owner, backend=BACKEND)
    return client


def send(desk: Client, text: str, do: str, **more: Any) -> Any:
    file = SimpleUploadedFile("places.csv", text.encode())
    headers = more.pop("headers", {})
    form = {"files": file, "do": do, "idempotency_key": do, "heading": "", **more}
    return desk.post("/imports/new/", form, headers=headers)


def test_sheets_are_looked_at_and_then_imported(desk: Client) -> None:
    looked = send(desk, GOOD, "check", headers=HTMX)
    page = looked.content.decode()
    assert "Nothing is wrong in them" in page
    assert "<html" not in page, "only the outcome is replaced: the files stay chosen"
    assert not Place.objects.filter(code="SHELF-9").exists()
    done = send(desk, GOOD, "import", headers=HTMX)
    kept = Import.objects.get()
    assert done["HX-Redirect"] == f"/imports/{kept.pk}/"
    assert "places.csv" in desk.get(f"/imports/{kept.pk}/").content.decode()
    assert f"/imports/{kept.pk}/" in desk.get("/imports/").content.decode()


def test_what_is_wrong_is_marked_in_the_sheets_own_grid_and_nothing_is_written(
    desk: Client,
) -> None:
    refused = send(desk, WRONG, "import")
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "Nothing was imported: 1 problem." in page
    assert '<th scope="row">3</th>' in page
    assert '<td class="off">cupboard' in page
    assert "Shelf eight" not in page
    assert "<html" in page, "without a script the whole page answers"
    assert not Place.objects.filter(code__startswith="SHELF-").exists()


def test_a_heading_said_on_the_page_is_kept_and_can_be_forgotten(desk: Client) -> None:
    own = GOOD.replace("name", "What we call it", 1)
    marked = send(desk, own, "check").content.decode()
    assert '<th scope="col" class="off">What we call it' in marked
    done = send(desk, own, "import", heading="places:What we call it=name")
    assert done.status_code == 302
    assert "what_we_call_it" in desk.get("/imports/headings/").content.decode()
    form = {"sheet": "places", "heading": "what_we_call_it", "idempotency_key": "forget"}
    desk.post("/imports/headings/remove/", form)
    assert "what_we_call_it" not in desk.get("/imports/headings/").content.decode()


def test_without_a_file_it_is_said_what_to_send(desk: Client) -> None:
    refused = desk.post("/imports/new/", {"do": "check", "idempotency_key": "none"})
    assert refused.status_code == 422
    assert "Send at least one file" in refused.content.decode()


def test_empty_sheets_can_be_had_of_every_kind(desk: Client) -> None:
    page = desk.get("/imports/templates/").content.decode()
    assert "/api/v1/imports/templates/items.csv" in page
    assert "/api/v1/imports/templates/complaints.xlsx" in page
