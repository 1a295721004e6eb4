"""Pages of people, tokens, settings and records, for those who may see them."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from shopfloor.api.shop import SETTINGS
from shopfloor.bootstrap import ROOT
from shopfloor.models import Change, Token, User
from shopfloor.operations import create_person
from shopfloor.roles import Role
from shopfloor.selectors import person_named
from tests.shopfloor.conftest import MONDAY

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def desk(owner: User) -> Client:
    client = Client()
    client.force_login(owner, backend=BACKEND)
    return client


@pytest.fixture
def viewer(owner: User) -> Client:
    create_person(
        username="vera", display_name="Vera", role=Role.VIEWER, password=None, by=owner, at=MONDAY
    )
    client = Client()
    client.force_login(person_named("vera"), backend=BACKEND)
    return client


def test_a_person_is_added_given_another_role_and_let_in_no_longer(desk: Client) -> None:
    form = {"username": "kim", "display_name": "Kim", "role": "bench"}
    added = desk.post("/people/new/", {**form, "password": "", "idempotency_key": "new"})
    assert added["Location"] == "/people/kim/"
    page = desk.get("/people/kim/").content.decode()
    assert ("/people/kim/role/" in page, "May sign in again" in page) == (True, False)
    desk.post("/people/kim/role/", {"role": "lead", "idempotency_key": "role"})
    desk.post("/people/kim/active/", {"is_active": "false", "idempotency_key": "active"})
    kim = person_named("kim")
    assert (kim.role, kim.is_active) == ("lead", False)
    assert "May sign in again" in desk.get("/people/kim/").content.decode()
    ticked = desk.get("/people/kim/active/?is_active=true").content.decode()
    assert 'value="true" checked' in ticked


def test_a_password_that_is_too_short_is_said_at_its_field_and_not_shown(desk: Client) -> None:
    form = {"username": "kim", "display_name": "Kim", "role": "bench", "password": "short one"}
    refused = desk.post("/people/new/", {**form, "idempotency_key": "new"})
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "12 characters" in page
    assert "short one" not in page
    assert not User.objects.filter(username="kim").exists()


def test_a_token_is_shown_once_and_then_revoked(desk: Client) -> None:
    form = {"name": "scale", "ends_on": "", "idempotency_key": "token"}
    made = desk.post("/me/tokens/new/", form).content.decode()
    shown = re.findall(r'<code class="token">(\w+)</code>', made)
    assert len(shown) == 1
    assert "shown once only" in desk.post("/me/tokens/new/", form).content.decode()
    token = Token.objects.get()
    assert f"/me/tokens/{token.pk}/revoke/" in desk.get("/me/").content.decode()
    assert shown[0] not in desk.get("/tokens/").content.decode()
    desk.post(f"/tokens/{token.pk}/revoke/", {"idempotency_key": "revoke"})
    token.refresh_from_db()
    assert token.revoked_at is not None


def test_the_shops_page_has_what_one_may_see(desk: Client, viewer: Client) -> None:
    owners = desk.get("/shop/").content.decode()
    viewers = viewer.get("/shop/").content.decode()
    for address in ("/people/", "/settings/", "/changes/"):
        assert f'href="{address}"' in owners
        assert f'href="{address}"' not in viewers
    assert 'href="/books/"' in viewers
    assert viewer.get("/settings/").status_code == 403


def test_settings_are_told_as_they_are_without_secrets(desk: Client) -> None:
    page = desk.get("/settings/").content.decode()
    assert ("America/Chicago" in page, "Test shop" in page) == (True, True)
    assert settings.SECRET_KEY not in page
    assert f">{settings.SESSION_IDLE.seconds // 60}<" in page  # minutes, no money


def test_every_setting_but_the_secret_one_is_told() -> None:
    page = (ROOT / "docs" / "operating.md").read_text(encoding="utf-8")
    explained = set(re.findall(r"^\| `([A-Z0-9_]+)` \|", page, re.MULTILINE))
    assert explained - {"SHOP_SECRET_KEY"} == SETTINGS.keys()


def test_lists_of_people_and_records_take_few_statements(
    desk: Client, viewer: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for folder in ("people", "tokens", "changes", "access-events"):
        with django_assert_max_num_queries(12):
            assert desk.get(f"/{folder}/").status_code == 200


def test_an_edit_is_told_in_words(desk: Client, owner: User) -> None:
    change = Change.objects.create(
        at=MONDAY,
        by=owner,
        table="inventory_offer",
        row_code="1",
        before={"pack_base": 5, "lead_time_days": None},
        after={"pack_base": 25000000, "price_micro": 1500000},
    )
    page = desk.get("/changes/", {"table": change.table}).content.decode()
    assert ">pack: 5<" in page
    assert "pack: 25,000,000; price: 1.50" in page
    assert '<option value="inventory_offer" selected>offer</option>' in page
