"""An address written without its last slash: nothing that was sent there is lost."""

from __future__ import annotations

import pytest
from django.test import Client
from rest_framework.test import APIClient

from shopfloor.models import User

BEA = {"username": "bea", "display_name": "Bea", "role": "bench", "password": None}


def test_a_write_without_the_last_slash_is_sent_on_as_it_is(owner_api: APIClient) -> None:
    answer = owner_api.post("/api/v1/people", BEA, headers={"Idempotency-Key": "k"})
    # RFC 9110, section 15.4.9: 308 keeps method and body; after a 301 a write becomes a read.
    assert (answer.status_code, answer["Location"]) == (308, "/api/v1/people/")
    assert not User.objects.filter(username="bea").exists()
    followed = owner_api.post("/api/v1/people", BEA, headers={"Idempotency-Key": "k"}, follow=True)
    assert followed.status_code == 201
    assert User.objects.filter(username="bea").exists()


def test_a_read_without_the_last_slash_is_sent_on_with_its_query(owner_api: APIClient) -> None:
    answer = owner_api.get("/api/v1/people?role=owner")
    assert (answer.status_code, answer["Location"]) == (308, "/api/v1/people/?role=owner")


@pytest.mark.parametrize("address", ["/api/v1/nowhere", "/nowhere"])
def test_an_address_that_is_not_there_is_not_sent_on(db: None, address: str) -> None:
    assert Client().post(address).status_code == 404
