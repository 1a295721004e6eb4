"""Pages of alerts: what was seen leads to causes and a hold; a lead closes it."""

from __future__ import annotations

from batches.watch.models import Alert, AlertClosing
from shopfloor.models import User
from tests.pages import STATEMENTS_MAX, browse, send, text_of


def test_an_alert_says_what_was_seen_and_leads_to_causes_a_hold_and_a_recall(
    alert: Alert, lead: User, django_assert_max_num_queries: object
) -> None:
    client = browse(lead)
    with django_assert_max_num_queries(STATEMENTS_MAX):  # type: ignore[operator]
        page = client.get(f"/alerts/{alert.code}/")
    html = page.content.decode()
    assert alert.seen in text_of(page)
    assert 'href="/trace/causes/?defect=LEAK"' in html
    lots = [each["name"] for each in alert.exposures if each["kind"] == "lot"]
    assert lots
    assert f'href="/lots/{lots[0]}/hold/"' in html
    assert f'href="/recalls/new/?lots={lots[0]}"' in html
    assert alert.code in text_of(client.get("/alerts/"))


def test_closing_asks_why_and_is_for_leads(alert: Alert, lead: User, viewer: User) -> None:
    address = f"/alerts/{alert.code}/close/"
    wrong = send(browse(lead), address, reason="")
    assert wrong.status_code == 422
    assert 'id="f-reason-wrong"' in wrong.content.decode()
    assert send(browse(viewer), address, reason="Found it").status_code == 403
    assert not AlertClosing.objects.exists()
    assert send(browse(lead), address, reason="The second pot was old").status_code == 302
    text = text_of(browse(lead).get(f"/alerts/{alert.code}/"))
    assert "Closed." in text
    assert "The second pot was old" in text
