"""Reads of people, tokens, edits and ways in. Each function states its queries."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from django.apps import apps
from django.db import Error, connection
from django.db.models import Model, QuerySet, Value

from shopfloor.errors import NotFoundError
from shopfloor.models import AccessEvent, AccessKind, Change, RequestKey, Token, User
from shopfloor.nouns import nouns


class PersonRow(NamedTuple):
    """A person as the API shows one."""

    username: str
    display_name: str
    role: str
    is_active: bool
    created_at: datetime
    blanked_at: datetime | None


class TokenRow(NamedTuple):
    """A token without its secret."""

    id: int
    username: str
    name: str
    hint: str
    created_at: datetime
    made_by: str | None
    ends_on: date | None
    last_used_on: date | None
    revoked_at: datetime | None


class ChangeRow(NamedTuple):
    """One edit of a plain table."""

    at: datetime
    by: str
    table: str
    noun: str
    row_code: str
    row_name: str
    before: dict[str, Any] | None
    after: dict[str, Any]
    units: dict[str, str]


class AccessRow(NamedTuple):
    """What happened to somebody's way in; nobody's name where nobody has the one given."""

    at: datetime
    kind: str
    username: str | None
    by: str | None
    token: int | None
    address: str | None


def person_row(user: User) -> PersonRow:
    """One person. No query."""
    return PersonRow(
        username=user.username,
        display_name=user.display_name,
        role=user.role,
        is_active=user.is_active,
        created_at=user.created_at,
        blanked_at=user.blanked_at,
    )


def token_row(token: Token) -> TokenRow:
    """One token. No query when its user and who made it are loaded."""
    return TokenRow(
        id=token.pk,
        username=token.user.username,
        name=token.name,
        hint=token.hint,
        created_at=token.created_at,
        made_by=_name(token.made_by),
        ends_on=token.ends_on,
        last_used_on=token.last_used_on,
        revoked_at=token.revoked_at,
    )


def _name(user: User | None) -> str | None:
    return None if user is None else user.username


def person_named(username: str) -> User:
    """One query.

    Raises:
        NotFoundError: nobody has that name.
    """
    person = User.objects.filter(username=username.lower()).first()
    if person is None:
        raise NotFoundError("Nobody has that name. Look at the list of people.", username=username)
    return person


def people() -> QuerySet[User]:
    """Everybody, to be filtered and paged; two queries a page."""
    return User.objects.all()


def tokens() -> QuerySet[Token]:
    """Every token with its user, to be filtered and paged; two queries a page."""
    return Token.objects.select_related("user", "made_by")


def tokens_of(person: User) -> QuerySet[Token]:
    """The same of one person."""
    return tokens().filter(user=person)


def changes() -> QuerySet[Change]:
    """Every edit of a plain table, to be filtered and paged; two queries a page."""
    return Change.objects.select_related("by")


def change_rows(changes: Sequence[Change]) -> list[ChangeRow]:
    """Some edits, whose people are loaded. Two queries, whatever they point to."""
    names = _names_pointed_to(changes)

    def named(change: Change, facts: dict[str, Any]) -> dict[str, Any]:
        models = _pointers(change.table)
        return {
            field: names.get((models.get(field), str(value)), value)
            for field, value in facts.items()
        }

    rows = [
        ChangeRow(
            at=change.at,
            by=change.by.username,
            table=change.table,
            noun=nouns().get(change.table, change.table),
            row_code=change.row_code,
            row_name=names.get((_table(change.table), change.row_code), change.row_code),
            before=None if change.before is None else named(change, change.before),
            after=named(change, change.after),
            units={},
        )
        for change in changes
    ]
    units = _units({item for row in rows for item in _items_of(row)})
    return [
        row._replace(units={item: units[item] for item in _items_of(row) if item in units})
        for row in rows
    ]


def _items_of(row: ChangeRow) -> set[str]:
    """Codes of the items that amounts of an edit are of: the row's own, and those of its lines."""
    found = set()
    for facts in (row.before or {}, row.after):
        if any(name.endswith("_base") for name in facts):
            found.add(row.row_name)
        lines = facts.get("lines") or []
        found |= {line["item"] for line in lines if isinstance(line, dict) and "item" in line}
    return found


def _units(item_codes: Collection[str]) -> dict[str, str]:
    """Units people see, by item code. One query, none for no codes.

    Items are of a floor above: the model whose rows say what they are `shown_in`.
    """
    if not item_codes:
        return {}
    items: Any = next(model for model in apps.get_models() if hasattr(model, "shown_in"))
    found = items.objects.filter(code__in=item_codes).order_by()
    return dict(found.values_list("code", items.shown_in))


@cache
def _table(name: str) -> type[Model] | None:
    return next((model for model in apps.get_models() if model._meta.db_table == name), None)


@cache
def _pointers(table: str) -> dict[str, type[Model]]:
    """Fields of a table that point to rows with a name, and whose rows these are."""
    model = _table(table)
    fields = [] if model is None else model._meta.concrete_fields
    targets = {field.name: field.related_model for field in fields if field.related_model}
    return {name: target for name, target in targets.items() if _name_field(target)}


@cache
def _name_field(model: type[Model]) -> str | None:
    """The stored field that people know a row by: its own, or that of what it is about."""
    about: str | None = getattr(model, "known_by", None)
    columns = {field.name for field in model._meta.concrete_fields}
    return about or next((name for name in ("username", "code") if name in columns), None)


def _names_pointed_to(changes: Sequence[Change]) -> dict[tuple[type[Model] | None, str], str]:
    wanted: dict[type[Model], set[Any]] = {}
    for change in changes:
        model = _table(change.table)
        if model is not None and change.row_code.isdecimal() and _name_field(model):
            wanted.setdefault(model, set()).add(change.row_code)
        for field, target in _pointers(change.table).items():
            for facts in (change.before or {}, change.after):
                if facts.get(field) is not None:
                    wanted.setdefault(target, set()).add(facts[field])
    models = list(wanted)
    parts = [
        model._default_manager.filter(pk__in=wanted[model])
        .order_by()
        .values_list(Value(at), "pk", str(_name_field(model)))
        for at, model in enumerate(models)
    ]
    rows = parts[0].union(*parts[1:], all=True) if parts else ()
    return {(models[at], str(number)): name for at, number, name in rows}


def access_events() -> QuerySet[AccessEvent]:
    """Everything that happened to ways in, to be filtered and paged; two queries a page."""
    return AccessEvent.objects.select_related("person", "by")


def access_row(event: AccessEvent) -> AccessRow:
    """One of them. No query when its people are loaded."""
    return AccessRow(
        at=event.at,
        kind=event.kind,
        username=_name(event.person),
        by=_name(event.by),
        token=event.token_id,
        address=event.address,
    )


def has_signed_in_from(*, username: str, address: str | None, since: datetime) -> bool:
    """Whether a person signed in from a network address lately. One query."""
    return AccessEvent.objects.filter(
        kind=AccessKind.SIGNED_IN, person__username=username, address=address, at__gte=since
    ).exists()


def has_people() -> bool:
    """Whether anybody was ever entered. One query."""
    return User.objects.exists()


def is_database_up() -> bool:
    """Whether the database answers. One query."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return cursor.fetchone() is not None
    except Error:
        return False


def is_set_up() -> bool:
    """Whether the database has our tables. Asking does not make an SQLite file. One statement."""
    name = str(connection.settings_dict["NAME"])
    is_file = connection.vendor == "sqlite" and not name.startswith("file:")
    if is_file and not Path(name).exists():
        return False
    return RequestKey._meta.db_table in connection.introspection.table_names()
