"""Settings of Django and of the shop. What a shop may choose comes from the environment.

Every name read here is explained in docs/operating.md. A value that makes no sense stops us.
"""

from __future__ import annotations

import os
import re
import secrets
import tempfile
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from shopfloor import bootstrap
from shopfloor.codes.gs1.numbers import DEMONSTRATION, CompanyPrefix
from shopfloor.errors import ShopError

BASE_DIR = bootstrap.ROOT


def _flag(name: str) -> bool:
    value = os.environ.get(name, "").strip().lower()
    if value not in {"", "0", "no", "false", "1", "yes", "true"}:
        raise ImproperlyConfigured(f"{name} is 1 or 0, not {value!r}.")
    return value in {"1", "yes", "true"}


def _count(name: str, default: int, *, least: int, most: int) -> int:
    text = os.environ.get(name, "").strip() or str(default)
    if not re.fullmatch(r"[0-9]{1,9}", text) or not least <= int(text) <= most:
        raise ImproperlyConfigured(f"{name} is a whole number, {least} to {most}, not {text!r}.")
    return int(text)


def _words(name: str) -> list[str]:
    return [word.strip() for word in os.environ.get(name, "").split(",") if word.strip()]


# --- The shop's own -----------------------------------------------------------------------------

SHOP_PRODUCTION = _flag("SHOP_PRODUCTION")
SHOP_DATA_DIR = bootstrap.data_dir()
SHOP_IS_DEMO = bootstrap.demo_marker().exists()
SHOP_NAME = os.environ.get("SHOP_NAME") or ("DEMO shop" if SHOP_IS_DEMO else "Lure shop")

# UTC until the shop says where it is: a guessed zone would be believed, and would quietly put an
# evening's work on the wrong day. The made-up shop of the demo keeps US Central time.
SHOP_TIME_ZONE = os.environ.get("SHOP_TIME_ZONE") or ("America/Chicago" if SHOP_IS_DEMO else "UTC")
try:
    ZoneInfo(SHOP_TIME_ZONE)
except (ZoneInfoNotFoundError, ValueError) as error:
    raise ImproperlyConfigured(
        f"SHOP_TIME_ZONE is a name like America/Chicago, not {SHOP_TIME_ZONE!r}."
    ) from error

SHOP_CURRENCY = os.environ.get("SHOP_CURRENCY") or "USD"
if not re.fullmatch(r"[A-Z]{3}", SHOP_CURRENCY):
    raise ImproperlyConfigured(
        f"SHOP_CURRENCY is three capital letters (ISO 4217) like USD, not {SHOP_CURRENCY!r}."
    )

# Of the license of GS1, whole. None: boxes carry the shop's own codes alone.
SHOP_GS1_PREFIX = os.environ.get("SHOP_GS1_PREFIX", "").strip()
if SHOP_IS_DEMO and not SHOP_GS1_PREFIX:
    SHOP_GS1_PREFIX = f"{DEMONSTRATION}1234"
try:
    if SHOP_GS1_PREFIX and CompanyPrefix(SHOP_GS1_PREFIX).is_demonstration and not SHOP_IS_DEMO:
        raise ImproperlyConfigured(
            f"SHOP_GS1_PREFIX {SHOP_GS1_PREFIX} is for examples: no company has it. Type the prefix"
            " as it stands in the license, or leave it out."
        )
except ShopError as error:
    raise ImproperlyConfigured(f"SHOP_GS1_PREFIX: {error.detail}") from error


ADDRESS_LENGTH_MAX = 60
PORTS = range(1, 65_536)


def _address() -> str:
    """Where a phone that reads a label finds the shop; no path, so that labels stay small."""
    text = os.environ.get("SHOP_ADDRESS", "").strip().removesuffix("/").lower()
    found = re.fullmatch(r"https?://([a-z0-9.-]+|\[[0-9a-f:]+\])(?::([0-9]{1,5}))?", text)
    if not text:
        return ""
    if not found or len(text) > ADDRESS_LENGTH_MAX or int(found[2] or 1) not in PORTS:
        raise ImproperlyConfigured(
            "SHOP_ADDRESS is like https://shop.example or http://192.0.2.7:8000, without a path and"
            f" at most {ADDRESS_LENGTH_MAX} long, not {text!r}."
        )
    if found[1] in {"localhost", "[::1]"} or found[1].startswith("127."):
        raise ImproperlyConfigured(
            f"SHOP_ADDRESS {text} would send every phone to itself. Write the address that other"
            " machines have for this one."
        )
    if SHOP_PRODUCTION and not text.startswith("https:"):
        raise ImproperlyConfigured("Under SHOP_PRODUCTION SHOP_ADDRESS begins with https://.")
    return text


# On papers, for whoever has no scanner. None: papers carry codes alone.
SHOP_ADDRESS = _address()

# --- Who may reach it ---------------------------------------------------------------------------

ALLOWED_HOSTS = _words("SHOP_ALLOWED_HOSTS")
if SHOP_PRODUCTION and not ALLOWED_HOSTS:
    raise ImproperlyConfigured("SHOP_PRODUCTION needs SHOP_ALLOWED_HOSTS: the names it answers to.")
ALLOWED_HOSTS = ALLOWED_HOSTS or ["localhost", "127.0.0.1", "[::1]"]


def _secret_key() -> str:
    key = os.environ.get("SHOP_SECRET_KEY", "")
    file = bootstrap.secret_key_file()
    if not key and file.exists():
        key = file.read_text(encoding="utf-8").strip()
    if not key and SHOP_PRODUCTION:
        raise ImproperlyConfigured(
            f"SHOP_PRODUCTION needs a secret key: SHOP_SECRET_KEY, or the file {file}."
        )
    return key or secrets.token_urlsafe(64)  # good for one run: sign-ins end with the process


SECRET_KEY = _secret_key()
DEBUG = False  # its pages show the inside of the program; the log shows as much, to fewer
ROOT_URLCONF = "shopfloor.urls"
WSGI_APPLICATION = "shopfloor.wsgi.application"

INSTALLED_APPS = [
    "shopfloor",
    "inventory",
    "batches",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_htmx",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "shopfloor.request_log.RequestLogMiddleware",
    "shopfloor.headers.HeaderMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "shopfloor.headers.ContentPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "shopfloor.addresses.AddressMiddleware",
    "shopfloor.body_limit.BodyLimitMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shopfloor.sessions.SessionLimitMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "shopfloor.problems.PageProblemMiddleware",
    "axes.middleware.AxesMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shopfloor.screens.ways.ways",
            ]
        },
    }
]

# --- The database -------------------------------------------------------------------------------


def _databases() -> dict[str, dict[str, Any]]:
    default: dict[str, Any] = {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": bootstrap.sqlite_file(),
    }
    if url := os.environ.get("DATABASE_URL"):
        default = {**dj_database_url.parse(url)}
    # A kept connection spares PostgreSQL a handshake, and SQLite folding its log at every request.
    default.update(CONN_MAX_AGE=600, CONN_HEALTH_CHECKS=True, ATOMIC_REQUESTS=False)
    if default["ENGINE"].endswith("postgresql"):
        # Compiling a statement costs it more than running any of ours. Who waits for a lock, or for
        # a server that does not answer, hears so after a while, as on SQLite. What nobody waits for
        # any more is given up.
        default.setdefault("OPTIONS", {}).update(
            options="-c jit=off -c lock_timeout=20s -c client_connection_check_interval=10s",
            connect_timeout=10,
            prepare_threshold=5,  # what `shopfloor/planned.py` asks as often is planned once
        )
    if default["ENGINE"].endswith("sqlite3"):
        default.setdefault("OPTIONS", {}).update(
            transaction_mode="IMMEDIATE",
            timeout=20,
            # FULL: with NORMAL a power cut may take the last postings with it.
            init_command="PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
            " PRAGMA wal_autocheckpoint=10000; PRAGMA foreign_keys=ON;"
            " PRAGMA recursive_triggers=ON; PRAGMA busy_timeout=20000;",
        )
        if os.environ.get("SQLITE_TEST_FILE") == "1":
            # Tests usually run in memory, where there is no write-ahead log and no second thread.
            file = f"shop-test-{os.getpid()}.sqlite3"
            default["TEST"] = {"NAME": str(Path(tempfile.gettempdir(), file))}
    return {"default": default}


DATABASES = _databases()
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- Signing in ---------------------------------------------------------------------------------

AUTH_USER_MODEL = "shopfloor.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.ScryptPasswordHasher"]
_VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": f"{_VALIDATION}.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "display_name")},
    },
    {"NAME": f"{_VALIDATION}.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": f"{_VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATION}.NumericPasswordValidator"},
]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in/"
CSRF_FAILURE_VIEW = "shopfloor.problems.csrf_failure"

SESSION_COOKIE_AGE = 12 * 60 * 60  # a shift: a tablet left on the bench is signed out next morning
SESSION_IDLE = timedelta(minutes=_count("SHOP_IDLE_MINUTES", 120, least=1, most=12 * 60))
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"

# Ten wrong passwords for one name from one address close that pair for a quarter of an hour:
# nobody can lock a colleague out from another machine. shopfloor/lockout.py has the slower limits.
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False  # going on does not make it longer
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_HANDLER = "shopfloor.lockout.Lockout"
AXES_USERNAME_CALLABLE = "shopfloor.lockout.typed_name"
AXES_CLIENT_IP_CALLABLE = "shopfloor.proxy.client_address"
AXES_LOCKOUT_CALLABLE = "shopfloor.pages.locked_out"
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True  # our own table of ways in has it, and is never changed
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False

_CONTENT_SECURITY: dict[str, list[str]] = {
    "default-src": [NONE],
    "script-src": [SELF],
    "style-src": [SELF],
    "img-src": [SELF],
    "font-src": [SELF],
    "connect-src": [SELF],
    "manifest-src": [SELF],
    "form-action": [SELF],
    "base-uri": [NONE],
    "frame-ancestors": [NONE],
}
CONTENT_SECURITY_POLICY = {"DIRECTIVES": _CONTENT_SECURITY}

if SHOP_PRODUCTION:
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^health/$"]  # asked from inside, by whatever watches the server
    SECURE_HSTS_SECONDS = 30 * 24 * 60 * 60
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    # The browser then takes them from this host alone, over HTTPS alone.
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    # Other hosts of the domain, and the browsers' own lists, are not ours to decide about.
    SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# --- The API ------------------------------------------------------------------------------------

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "shopfloor.tokens.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["shopfloor.permissions.DeclaredRoles"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "shopfloor.problems.api_problem",
    "COERCE_DECIMAL_TO_STRING": True,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}

SPECTACULAR_SETTINGS = {
    "TITLE": "Lots, batches, reorder points, traces and labels",
    "DESCRIPTION": "The API of a small maker of hard-plastic fishing lures; see docs/api.md.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SCHEMA_PATH_PREFIX": r"/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    # Choices stand where they are used: a dozen rooms have a `kind` or a `state`, and names made
    # up to tell them apart would change with every new one.
    "POSTPROCESSING_HOOKS": [],
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
}

# --- What may be sent --------------------------------------------------------------------------

DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000  # a form or a JSON body; a door may declare more
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 40
FILE_UPLOAD_MAX_MEMORY_SIZE = 2_500_000  # a larger file goes to a temporary one
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
SERVER_BODY_SIZE_MAX = 64_000_000  # above this the server itself hangs up

# --- Words, files, log --------------------------------------------------------------------------

LANGUAGE_CODE = "en"
USE_I18N = False
FORMAT_MODULE_PATH = ["shopfloor.formats"]
USE_TZ = True
TIME_ZONE = "UTC"  # what is stored; shopfloor/days.py knows the shop's own

STATIC_URL = "/static/"
WHITENOISE_USE_FINDERS = True  # serves files where they lie: no collecting step to forget
MEDIA_ROOT = SHOP_DATA_DIR / "uploads"  # handed out by doors alone, never by address

SHOP_WATCH_BY_HAND = _flag("SHOP_WATCH_BY_HAND")

SHOP_LOG_JSON = _flag("SHOP_LOG_JSON")
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"number": {"()": "shopfloor.request_log.NumberFilter"}},
    "formatters": {
        "plain": {
            "()": "shopfloor.request_log.PlainFormatter",
            "format": "{asctime} {levelname} {name} {request_id}: {message}",
            "style": "{",
        },
        "json": {"()": "shopfloor.request_log.JsonFormatter"},
    },
    "handlers": {
        "terminal": {
            "class": "logging.StreamHandler",
            "filters": ["number"],
            "formatter": "json" if SHOP_LOG_JSON else "plain",
        }
    },
    "root": {"handlers": ["terminal"], "level": "INFO"},
    "loggers": {
        "django": {"handlers": ["terminal"], "level": "INFO", "propagate": False},
        # A request has its line; theirs would name people and the addresses they ask.
        "django.request": {"level": "ERROR"},
        "axes": {"level": "ERROR"},
        "waitress": {"level": "WARNING"},
    },
}
