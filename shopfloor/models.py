"""Tables of the ground floor: people, their tokens, request keys, who changed what, who came in."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.serializers.json import DjangoJSONEncoder
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.crypto import salted_hmac

from shopfloor.append_only import AppendOnly
from shopfloor.roles import Role

USERNAME_PATTERN = r"^[a-z0-9][a-z0-9._-]{0,39}\Z"


class UserManager(BaseUserManager["User"]):
    """Finds a person at sign-in. People are made by `operations.create_person` alone."""

    def get_by_natural_key(self, username: str | None) -> User:
        """The person of that name, however it was typed."""
        return self.get(username=(username or "").lower())


class User(AbstractBaseUser):
    """A person who signs in. Never deleted: postings point here; the name can be blanked."""

    username = models.CharField(
        max_length=40, unique=True, validators=[RegexValidator(USERNAME_PATTERN)]
    )
    display_name = models.CharField(max_length=80)
    role = models.CharField(max_length=10, choices=Role.choices)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField()
    blanked_at = models.DateTimeField(null=True, blank=True)
    session_epoch = models.PositiveIntegerField(
        default=0, help_text="Sessions of an earlier number have ended."
    )

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "username"
    # The audit is never changed, so it must not hold what can be blanked.
    hidden_from_audit = frozenset(
        {"username", "display_name", "password", "last_login", "session_epoch"}
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(username=Lower("username")), name="username_is_lower_case"
            ),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="user_role_is_known"),
            models.CheckConstraint(
                condition=Q(blanked_at__isnull=True) | Q(is_active=False),
                name="blanked_person_cannot_sign_in",
            ),
        ]

    def __str__(self) -> str:
        return self.display_name

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """What a session must carry to be this person's: another password or epoch ends it."""
        proof = f"{self.session_epoch}:{self.password}"
        return salted_hmac(
            "shopfloor.User.session", proof, secret=secret, algorithm="sha256"
        ).hexdigest()


class Token(models.Model):
    """A program's key to the API. Only its SHA-256 is kept: 256 random bits need no slow hash.

    What was made before there were end dates has none, and nobody who made it.
    """

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=80, help_text="What uses it.")
    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the token, hex.")
    hint = models.CharField(max_length=4, help_text="The last four characters.")
    created_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    ends_on = models.DateField(null=True, help_text="The last day of the shop on which it works.")
    last_used_on = models.DateField(null=True, help_text="A day, so that one use a day writes.")
    revoked_at = models.DateTimeField(null=True, blank=True)

    hidden_from_audit = frozenset({"digest", "name", "last_used_on"})

    def __str__(self) -> str:
        return f"{self.name} (...{self.hint})"


class RequestKey(models.Model):
    """A request that was answered: sent again with the same key it gets the same answer."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=100)
    fingerprint = models.CharField(max_length=64, help_text="SHA-256 of method, address and body.")
    status = models.PositiveSmallIntegerField(null=True)
    answer = models.JSONField(null=True, encoder=DjangoJSONEncoder)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "key"], name="request_key_once_per_user")
        ]

    def __str__(self) -> str:
        return self.key


class Change(AppendOnly):
    """One edit of a plain table: which fields, from what, to what, by whom."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    table = models.CharField(max_length=80)
    row_code = models.CharField(max_length=80)
    before = models.JSONField(null=True, encoder=DjangoJSONEncoder, help_text="Null: a new row.")
    after = models.JSONField(encoder=DjangoJSONEncoder)

    class Meta:
        indexes = [
            models.Index(fields=["table", "row_code"], name="change_by_row"),
            models.Index(fields=["at"], name="change_by_time"),
        ]

    def __str__(self) -> str:
        return f"{self.table} {self.row_code}"


class AccessKind(models.TextChoices):
    """What happened to somebody's way in."""

    SIGNED_IN = "signed_in", "Signed in"
    SIGN_IN_FAILED = "sign_in_failed", "Wrong name or password"
    LOCKED_OUT = "locked_out", "Locked out after too many"
    SIGNED_OUT = "signed_out", "Signed out"
    SESSIONS_ENDED = "sessions_ended", "Signed out everywhere"
    PASSWORD_CHANGED = "password_changed", "Password changed"
    TOKEN_MADE = "token_made", "Token made"
    TOKEN_REVOKED = "token_revoked", "Token revoked"


class AccessEvent(AppendOnly):
    """Somebody came in, failed to, or left, or what lets them in was changed."""

    at = models.DateTimeField()
    kind = models.CharField(max_length=20, choices=AccessKind.choices)
    # Null where nobody has the name: people type passwords into the wrong field.
    person = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, related_name="+", help_text="Null: not known."
    )
    token = models.ForeignKey(Token, on_delete=models.PROTECT, null=True, related_name="+")
    address = models.GenericIPAddressField(null=True, help_text="Null: not from the network.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=AccessKind.values), name="access_kind_is_known"
            )
        ]
        indexes = [
            models.Index(fields=["person", "at"], name="access_event_by_person"),
            models.Index(fields=["at"], name="access_event_by_time"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.at}"
