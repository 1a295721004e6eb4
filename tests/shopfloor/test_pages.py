"""Pages of the ground floor."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.test import Client
from django.utils.html import escape

from shopfloor.models import User
from shopfloor.operations import issue_token, let_sign_in
from shopfloor.problems import FRAME_PROBLEMS, Problem
from shopfloor.roles import Role
from shopfloor.screens.cells import REFERENCES
from tests.shopfloor.conftest import MONDAY, PASSWORD

Enter = Callable[..., User]
STATIC = Path(__file__).parents[2] / "shopfloor" / "static" / "shopfloor"
TEMPLATES = Path(__file__).parents[2] / "shopfloor" / "templates" / "shopfloor"


def sign_in(client: Client, *, password: str = PASSWORD, **more: str) -> Any:
    return client.post("/sign-in/", {"username": "Olga", "password": password, **more})


@pytest.mark.parametrize("problem", FRAME_PROBLEMS, ids=lambda problem: problem.code)
def test_what_any_address_may_answer_has_its_page(owner: User, problem: Problem) -> None:
    client = Client()
    sign_in(client)
    page = client.get(f"/problems/{problem.code}").content.decode()
    assert f"<h1>{problem.title}</h1>" in page
    assert escape(problem.detail) in page


def test_a_code_that_no_problem_has_has_no_page(owner: User) -> None:
    client = Client()
    sign_in(client)
    assert client.get("/problems/bad_luck").status_code == 404


def test_a_person_sees_their_tokens_without_the_secret(owner: User) -> None:
    issued = issue_token(username="olga", name="<b>scale</b>", by=owner, at=MONDAY)
    client = Client()
    sign_in(client)
    page = client.get("/me/").content.decode()
    assert "&lt;b&gt;scale&lt;/b&gt;" in page
    assert issued.row.hint in page
    assert issued.text not in page


def test_a_stranger_is_sent_to_sign_in(db: None) -> None:
    answer = Client().get("/")
    assert (answer.status_code, answer.url) == (302, "/sign-in/?next=/")  # type: ignore[attr-defined]


def test_a_person_signs_in_however_the_name_is_typed_and_sees_the_first_page(owner: User) -> None:
    client = Client()
    assert sign_in(client).status_code == 302
    page = client.get("/").content.decode()
    assert "Olga Owner" in page
    assert all(link in page for link in ('"/api/docs/"', '"/api/v1/schema/"', '"/health/"'))
    assert client.get("/api/docs/").status_code == 200


def test_a_wrong_password_says_what_to_do(owner: User) -> None:
    answer = sign_in(Client(), password="wrong")
    assert answer.status_code == 200
    assert "do not go together" in answer.content.decode()


@pytest.mark.parametrize(("length", "attempts"), [(40, 1), (41, 0), (100_000, 0)])
def test_a_name_longer_than_any_is_refused_before_it_is_looked_up_or_kept(
    owner: User, length: int, attempts: int
) -> None:
    answer = Client().post("/sign-in/", {"username": "x" * length, "password": "wrong"})
    assert answer.status_code == 200
    assert AccessAttempt.objects.count() == attempts


def test_who_was_shut_out_cannot_sign_in(owner: User, enter: Enter) -> None:
    enter(Role.OWNER, username="odette")
    let_sign_in(username="olga", is_active=False, by=owner, at=MONDAY)
    client = Client()
    sign_in(client)
    assert client.get("/").status_code == 302


@pytest.mark.parametrize(
    ("wanted", "gets"),
    [
        ("/problems/not_found", "/problems/not_found"),
        ("https://elsewhere.invalid/", "/"),
        ("//elsewhere.invalid/", "/"),
        ("javascript:alert(1)", "/"),
    ],
)
def test_after_sign_in_one_goes_where_one_wanted_if_that_is_ours(
    owner: User, wanted: str, gets: str
) -> None:
    assert sign_in(Client(), next=wanted).url == gets


def test_too_many_wrong_passwords_close_the_door_for_a_while(owner: User, settings: Any) -> None:
    client = Client()
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = sign_in(client, password="wrong")
    assert answer.status_code == 429
    page = answer.content.decode()
    assert "Wait 15 minutes" in page
    assert sign_in(client).status_code == 429  # the right one does not help now
    assert client.get("/").status_code == 302


def test_signing_out_takes_a_post(owner: User) -> None:
    client = Client()
    sign_in(client)
    assert client.get("/sign-out/").status_code == 405
    assert client.get("/").status_code == 200
    assert client.post("/sign-out/").status_code == 302
    assert client.get("/").status_code == 302


def test_an_empty_shop_says_how_the_first_person_is_made(db: None) -> None:
    assert "Nobody is entered yet" in Client().get("/sign-in/").content.decode()


def test_a_demo_says_so_on_every_page(owner: User, settings: Any) -> None:
    settings.SHOP_IS_DEMO = True
    client = Client()
    assert "<strong>DEMO</strong>" in client.get("/sign-in/").content.decode()
    assert "<strong>DEMO</strong>" in client.get("/nowhere/").content.decode()
    sign_in(client)
    assert "<strong>DEMO</strong>" in client.get("/").content.decode()


def test_a_real_shop_says_nothing_of_a_demo(owner: User) -> None:
    assert "DEMO" not in Client().get("/sign-in/").content.decode()


def test_pages_come_with_a_policy_that_lets_nothing_in_line_run(owner: User) -> None:
    answer = Client().get("/sign-in/")
    policy = answer["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize("template", sorted(path.name for path in TEMPLATES.glob("*.html")))
def test_a_template_has_no_style_or_script_in_line(template: str) -> None:
    text = (TEMPLATES / template).read_text()
    assert "<style" not in text
    assert " style=" not in text
    assert "<script>" not in text
    assert " onclick" not in text
    assert "hx-on" not in text


def luminance(color: str) -> float:
    parts = [int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """As WCAG 2.2 defines contrast ratio and relative luminance."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white_is_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


# WCAG 2.2 AA: 4.5 for text (success criterion 1.4.3), 3 for the line round a field (1.4.11).
@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(
    ("front", "back", "least"),
    [
        ("ink", "paper", 4.5),
        ("ink", "card", 4.5),
        ("quiet", "paper", 4.5),
        ("quiet", "card", 4.5),
        ("accent", "paper", 4.5),
        ("accent", "card", 4.5),
        ("on-accent", "accent", 4.5),
        ("bad", "paper", 4.5),
        ("bad", "card", 4.5),
        ("ink", "bad-paper", 4.5),
        ("quiet", "bad-paper", 4.5),
        ("on-demo", "demo", 4.5),
        ("line", "paper", 3),
        ("line", "card", 3),
    ],
)
def test_colors_can_be_told_apart(scheme: int, front: str, back: str, least: float) -> None:
    css = (STATIC / "shop.css").read_text()
    block = css.split(":root {")[1 + scheme].partition("}")[0]
    colors = dict(line.strip(" -;").split(": ") for line in block.splitlines() if "#" in line)
    assert contrast(colors[front], colors[back]) >= least


def test_every_word_of_the_docs_stands_on_its_page(owner: User) -> None:
    client = Client()
    sign_in(client)
    page = client.get("/words/").content.decode()
    assert "<dt>split</dt><dd>part of a lot taken as a lot of its own, PARENT.n</dd>" in page
    table = (Path(__file__).parents[2] / "docs" / "words.md").read_text().partition("## Units")[0]
    assert page.count("<dt>") == table.count("\n| ") - 2  # less the head and its rule


@pytest.mark.parametrize("folder", sorted(set(REFERENCES.values())))
def test_every_list_that_a_field_may_name_offers_its_codes(owner: User, folder: str) -> None:
    client = Client()
    sign_in(client)
    assert client.get(f"/choices/{folder}/?search=a").status_code == 200
