"""Alerts: opened by themselves, once, with a likely cause; closed by a lead; shown."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.management.commands.watch import look_at_checks
from batches.quality.models import Check
from batches.watch.models import Alert
from batches.watch.operations import close_alert
from inventory.stock.models import Lot
from shopfloor.models import User
from tests.batches import floor
from tests.batches.trace.conftest import bodies, checked
from tests.batches.watch.conftest import NOW, look

Calling = Callable[[User], floor.Caller]


def close(alert: Alert, lead: User, *, is_usual: bool = False) -> None:
    stamp = floor.stamp_at(lead, floor.LATER, reason="pot thrown away")
    close_alert(alert_code=alert.code, is_usual=is_usual, stamp=stamp)


def later(lead: User, lot: Lot, tested: int, failed: int) -> Check:
    """A check that was recorded after the alert was closed."""
    return checked(lead, lot, tested, failed, now=floor.LATER.replace(hour=23))


def test_a_rise_opens_an_alert_with_what_was_seen_and_its_likely_cause(
    alert: Alert, leaking: Lot
) -> None:
    assert alert.seen == (
        "Since 2026-03-02 30 of 60 pieces failed check DUNK (50.00%); before, 0 of 240 pieces "
        "failed check DUNK (0.00%)."
    )
    assert alert.cause.startswith(f"With lot {leaking.code}, 50.0% of the pieces failed")
    assert {"kind": "lot", "name": leaking.code} in alert.exposures
    assert (alert.defect.code, alert.definition and alert.definition.code) == ("LEAK", "DUNK")


@pytest.mark.usefixtures("good_lots")
def test_no_rise_opens_none() -> None:
    assert look() == []


def test_the_same_rise_opens_no_second_alert_while_it_is_open(
    alert: Alert, leaking: Lot, lead: User
) -> None:
    checked(lead, bodies(lead, leaking, 22), 20, 10)
    assert look() == []
    assert Alert.objects.count() == 1


def test_what_was_seen_opens_none_again_after_it_was_closed_but_the_next_rise_does(
    alert: Alert, good_lots: tuple[Lot, Lot], lead: User
) -> None:
    close(alert, lead)
    assert look() == []
    for _ in range(2):
        later(lead, bodies(lead, good_lots[1], 22), 20, 8)
    [second] = look(floor.LATER.replace(hour=23, minute=1))
    # The closed one's pieces are not what is usual.
    assert (second.tested, second.failed) == (40, 16)
    assert (second.tested_before, second.failed_before) == (240, 0)


def test_what_a_lead_called_usual_counts_as_usual(
    alert: Alert, good_lots: tuple[Lot, Lot], lead: User
) -> None:
    close(alert, lead, is_usual=True)
    for _ in range(2):
        later(lead, bodies(lead, good_lots[1], 22), 20, 8)
    assert look(floor.LATER.replace(hour=23, minute=1)) == []


def test_a_check_that_was_replaced_or_repeated_is_not_looked_at(
    good_lots: tuple[Lot, Lot], lead: User
) -> None:
    lot = bodies(lead, good_lots[1], 21)
    wrong = checked(lead, lot, 20, 20)
    checked(lead, lot, 20, 0, replaces=wrong.code)
    checked(lead, lot, 20, 20)
    assert look() == []


def test_what_is_older_than_a_year_is_forgotten(leaking: Lot) -> None:
    assert look(NOW.replace(year=2028)) == []


def test_only_the_checks_told_of_are_looked_at(leaking: Lot) -> None:
    assert look_at_checks([], now=NOW) == []


def test_the_list_and_one_alert_by_their_doors(
    alert: Alert, viewer: User, calling: Calling
) -> None:
    api = calling(viewer)
    one = api.get(f"alerts/{alert.code}/").json()
    assert (one["code"], one["is_open"], one["closed_by"]) == (alert.code, True, None)
    assert api.get("alerts/").json()["results"] == [one]
    assert api.get("alerts/", is_open="false").json()["count"] == 0
    assert api.get("alerts/", defect="LEAK", definition="DUNK").json()["count"] == 1
    assert api.get("alerts/", defect="NOPE").status_code == 422
    assert api.get("alerts/Y-2222/").status_code in {404, 422}


def test_a_lead_closes_it_once_with_a_reason(alert: Alert, lead: User, calling: Calling) -> None:
    api, address = calling(lead), f"alerts/{alert.code}/close/"
    assert api.post(address, {}).json()["code"] == "reason_missing"
    assert api.get(f"alerts/{alert.code}/").json()["is_open"]
    closed = api.post(address, {"reason": "pot thrown away"}).json()
    keys = ("is_open", "closed_by", "closed_because", "is_usual")
    assert [closed[key] for key in keys] == [False, lead.username, "pot thrown away", False]
    again = api.post(address, {"reason": "once more"})
    assert (again.status_code, again.json()["code"]) == (409, "alert_closed")


def test_a_person_at_the_bench_does_not_close_it(
    alert: Alert, viewer: User, calling: Calling
) -> None:
    answer = calling(viewer).post(f"alerts/{alert.code}/close/", {"reason": "no"})
    assert answer.status_code == 403


def test_the_first_page_shows_it_until_it_is_closed(
    alert: Alert, lead: User, client: Client
) -> None:
    client.force_login(lead, backend="django.contrib.auth.backends.ModelBackend")
    text = client.get("/").content.decode()
    assert alert.code in text
    assert "More failures than before" in text
    close(alert, lead)
    assert alert.code not in client.get("/").content.decode()


def test_the_command_says_what_it_opened(leaking: Lot) -> None:
    out = StringIO()
    call_command("watch", stdout=out)
    assert "LEAK: Since 2026-03-02 30 of 60 pieces failed check DUNK" in out.getvalue()
    assert out.getvalue().endswith("1 opened.\n")


def test_a_look_takes_as_many_statements_for_many_checks(
    good_lots: tuple[Lot, Lot], lead: User
) -> None:
    with CaptureQueriesContext(connection) as few:
        look()
    for _ in range(3):
        checked(lead, bodies(lead, good_lots[0], 22), 20, 0)
    with CaptureQueriesContext(connection) as many:
        look()
    assert len(few) == len(many) <= 4


def test_an_alert_is_never_changed(alert: Alert) -> None:
    alert.cause = "another"
    with pytest.raises(Exception, match="append-only"):
        alert.save()
