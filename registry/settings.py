"""Every setting of the service, read from the environment here and nowhere else.

Nothing secret has a default: without ``SECRET_KEY`` Django refuses to sign, without
``DATABASE_URL`` there is no database. ``docs/settings.md`` lists them all; a test compares.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent


def env_bool(name: str, default: bool) -> bool:
    """Read True or False; anything else is refused, since "no" would otherwise mean yes."""
    text = os.environ.get(name)
    if text is None:
        return default
    if text not in ("True", "False"):
        raise ImproperlyConfigured(f"{name} must be True or False.")
    return text == "True"


def env_int(name: str, default: int) -> int:
    text = os.environ.get(name)
    if text is None:
        return default
    try:
        return int(text)
    except ValueError:
        raise ImproperlyConfigured(f"{name} must be a whole number.") from None


def env_secret(name: str) -> str:
    """Read a secret from ``NAME`` or from the file named by ``NAME_FILE``."""
    path = os.environ.get(f"{name}_FILE")
    if path:
        return Path(path).read_text().strip()
    return os.environ.get(name, "")


def env_list(name: str) -> list[str]:
    return [part for part in os.environ.get(name, "").split(",") if part]


def database(url: str) -> dict[str, Any]:
    if not url:
        # Django then names the missing database at the first query, not at import.
        return {"ENGINE": "django.db.backends.dummy"}
    config: dict[str, Any] = dict(dj_database_url.parse(url))
    if config["ENGINE"] != "django.db.backends.postgresql":
        raise ImproperlyConfigured("DATABASE_URL must name a PostgreSQL server.")
    return config


SECRET_KEY = env_secret("SECRET_KEY")
DEBUG = False
# The loopback names always: a health check on the machine itself asks by them.
ALLOWED_HOSTS = [*env_list("ALLOWED_HOSTS"), "localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = env_list("CSRF_TRUSTED_ORIGINS")

# The application connects as a role that is neither owner nor superuser; the owner is
# for migrations alone (``manage.py migrate --database owner``).
DATABASE_URL = env_secret("DATABASE_URL")
DATABASE_OWNER_URL = env_secret("DATABASE_OWNER_URL")
# Only for ``manage.py prepare_database``, which makes the roles and the database.
ADMINISTRATOR_URL = env_secret("ADMINISTRATOR_URL")
DATABASES = {"default": database(DATABASE_URL), "owner": database(DATABASE_OWNER_URL)}
if env_bool("DATABASE_POOL", default=False):
    DATABASES["default"].setdefault("OPTIONS", {})["pool"] = True
# The tests move both aliases to a database of their own; nothing else may.
DATABASES["owner"]["TEST"] = {"MIRROR": "default"}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "rest_framework",
    "drf_spectacular",
    "registry",
    "analytics",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "registry.access.requests.RequestIdMiddleware",
    "registry.pages.security.ContentSecurityPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "registry.access.requests.MembershipMiddleware",
]
ROOT_URLCONF = "registry.urls"
WSGI_APPLICATION = "registry.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "registry" / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "registry.pages.context.registry_context",
            ],
            "builtins": ["registry.pages.templatetags.registry_words"],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.DjangoTemplates"

AUTH_USER_MODEL = "registry.User"
AUTHENTICATION_BACKENDS = ["django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"

# Behind a proxy that ends TLS; the demo serves plain HTTP on the loopback address only.
HTTPS_ONLY = env_bool("HTTPS_ONLY", default=True)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS_ONLY
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS_ONLY else None
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS_ONLY else 0
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 8 * 3600
SESSION_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"

LANGUAGE_CODE = "en"
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = False

STATIC_URL = "static/"
# The few files are served from where they lie; nothing is collected.
STATIC_ROOT = None
STATICFILES_DIRS = [BASE_DIR / "registry" / "static"]
WHITENOISE_USE_FINDERS = True

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["registry.api.authentication.MembershipAuthentication"],
    # Deny is the default: every view opens itself by naming what may be done there.
    "DEFAULT_PERMISSION_CLASSES": ["registry.api.permissions.Closed"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["registry.api.parsing.StrictJSONParser"],
    "EXCEPTION_HANDLER": "registry.api.problems.exception_handler",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "UNAUTHENTICATED_USER": None,
    "STRICT_JSON": True,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Caloric registry",
    "DESCRIPTION": "Finished caloric test results in, every index recomputed out.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "SORT_OPERATIONS": True,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
}

# Files and requests. The largest upload is refused at this size before it is read whole.
UPLOAD_MAX_BYTES = env_int("UPLOAD_MAX_BYTES", 100 * 1024 * 1024)
UPLOAD_MAX_UNPACKED_BYTES = env_int("UPLOAD_MAX_UNPACKED_BYTES", 1024 * 1024 * 1024)
JSON_MAX_BYTES = env_int("JSON_MAX_BYTES", 20 * 1024 * 1024)
DATA_UPLOAD_MAX_MEMORY_SIZE = JSON_MAX_BYTES
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
# Uploaded bytes never touch a disk under their own name: chunks go to a temporary file (mode
# 0600) that is gone when the request ends.
FILE_UPLOAD_HANDLERS = [
    "registry.pages.uploading.LimitedUploadHandler",
    "registry.pages.uploading.NamelessFileUploadHandler",
]
INTAKE_CHUNK_VISITS = env_int("INTAKE_CHUNK_VISITS", 1000)

# Keys for digests that must survive a change of SECRET_KEY (API tokens, erased references):
# "1:key,2:key"; the highest number signs, all verify.
DIGEST_KEYS = env_secret("DIGEST_KEYS")

BROKER_URL = env_secret("BROKER_URL") or "memory://"
CELERY_BROKER_URL = BROKER_URL
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 360
CELERY_TASK_SOFT_TIME_LIMIT = 300
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 3600}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {
    "outbox-sweep": {
        "task": "registry.outbox_sweep",
        "schedule": float(env_int("OUTBOX_SWEEP_SECONDS", 10)),
    },
}
# How long a piece of background work may hold its row before the sweep takes it back.
OUTBOX_LEASE_SECONDS = env_int("OUTBOX_LEASE_SECONDS", 30)
OUTBOX_MAX_ATTEMPTS = env_int("OUTBOX_MAX_ATTEMPTS", 5)

# Analytics: how long changes settle before figures follow, how often a network is evaluated anew
# at most, and how many days a tester sees a signal before those who lead do.
ANALYTICS_LOOK_SECONDS = env_int("ANALYTICS_LOOK_SECONDS", 10)
ANALYTICS_SETTLE_SECONDS = env_int("ANALYTICS_SETTLE_SECONDS", 5)
ANALYTICS_BUILD_SECONDS = env_int("ANALYTICS_BUILD_SECONDS", 3600)
SIGNAL_TESTER_FIRST_DAYS = env_int("SIGNAL_TESTER_FIRST_DAYS", 7)
CELERY_BEAT_SCHEDULE["analytics-look"] = {
    "task": "analytics.look",
    "schedule": float(ANALYTICS_LOOK_SECONDS),
}

# True only under ``manage.py demo``: every page then says that the data are invented.
DEMO = env_bool("DEMO", default=False)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["stderr"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
    # Django logs the path of a refused request, and a path can hold a reference: never that.
    "loggers": {
        "django.request": {"level": "CRITICAL", "propagate": False},
        "django.security.csrf": {"level": "CRITICAL", "propagate": False},
    },
}
