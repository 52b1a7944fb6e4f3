"""Every setting of the project; the one place that reads the environment, safe when nothing is set.

SECOND_BUILD_DATA    folder for the database, the secret key, photos and built static files (data/)
DATABASE_URL         PostgreSQL instead of the SQLite file in that folder
SECOND_BUILD_DEMO    1 for the invented class: a folder of its own inside that one, SQLite always
SECOND_BUILD_HTTPS   1 when a TLS proxy stands in front: secure cookies, HSTS, redirect
SECOND_BUILD_PROXY   the address that proxy connects from (127.0.0.1)
SECOND_BUILD_HOSTS   host names to answer to, comma separated; unset: any address or local name
SECOND_BUILD_BACKUPS folder of the nightly backups (backups/ in the data folder), or off
SECOND_BUILD_DEBUG   1 for a developer's own machine
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import dj_database_url
from django.utils.translation import gettext_lazy as _

from classroom import environment

BASE_DIR = Path(__file__).resolve().parent.parent
DEMO = environment.switch("SECOND_BUILD_DEMO")
DATA_DIR = environment.data_folder(BASE_DIR, demo=DEMO)
PHOTO_DIR = DATA_DIR / "photos"
BACKUP_DIR = environment.backup_folder(DATA_DIR)
HTTPS = environment.switch("SECOND_BUILD_HTTPS")
HTTPS_PROXY = os.environ.get("SECOND_BUILD_PROXY", "127.0.0.1")
DEBUG = environment.switch("SECOND_BUILD_DEBUG")
SECRET_KEY = environment.secret_key(DATA_DIR)

NAMED_HOSTS = environment.words("SECOND_BUILD_HOSTS")
# With no names given, LocalHostMiddleware admits addresses and local names only.
ALLOWED_HOSTS = NAMED_HOSTS or ["*"]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "classroom.static_config.ServedStaticFiles",
    "django.forms",
    "django_htmx",
    "classroom",
    "design_challenges",
]

MIDDLEWARE = [
    "classroom.middleware.local_host_middleware",
    "django.middleware.security.SecurityMiddleware",
    "classroom.middleware.security_headers_middleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "classroom.school_time.school_time_middleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "classroom.middleware.htmx_redirect_middleware",
    "design_challenges.views.entries.EntryMiddleware",
    "classroom.troubles.TroubleMiddleware",
]

ROOT_URLCONF = "classroom.urls"
WSGI_APPLICATION = "classroom.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "classroom.context_processors.installation",
            ],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

# --- database ---------------------------------------------------------------------------------------------

# So long does a save wait for another one before the page says that the machine is busy.
BUSY_S = 10
SQLITE_OPTIONS: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": BUSY_S,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; "
    "PRAGMA secure_delete=ON;",
}


def _databases() -> dict[str, Any]:
    if os.environ.get("DATABASE_URL") and not DEMO:
        given: dict[str, Any] = dict(dj_database_url.config(conn_max_age=60, conn_health_checks=True))
        if given["ENGINE"].endswith("postgresql"):
            given["OPTIONS"] = {"options": f"-c lock_timeout={BUSY_S}s", **given.get("OPTIONS", {})}
        return {"default": given}
    return {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "second-build.sqlite3",
            "CONN_MAX_AGE": None,
            "OPTIONS": SQLITE_OPTIONS,
        }
    }


DATABASES = _databases()

# --- signing in -------------------------------------------------------------------------------------------

AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
AUTHENTICATION_BACKENDS = ["classroom.sessions.Accounts"]
SESSION_ENGINE = "classroom.sessions"
LOGIN_URL = "classroom:sign_in"
LOGIN_REDIRECT_URL = "classroom:home"
LOGOUT_REDIRECT_URL = "classroom:sign_in"
SESSION_COOKIE_AGE = 12 * 60 * 60
# Cookies know no ports: a demo beside a real server must not sign its teachers out.
SESSION_COOKIE_NAME = "sb_demo_session" if DEMO else "sb_session"
CSRF_COOKIE_NAME = "sb_demo_csrf" if DEMO else "sb_csrf"
TEAM_COOKIE_NAME = "sb_demo_team" if DEMO else "sb_team"
SUBSTITUTE_COOKIE_NAME = "sb_demo_substitute" if DEMO else "sb_substitute"
STATION_COOKIE_NAME = "sb_demo_station" if DEMO else "sb_station"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "classroom.views.errors.csrf_failure"

# --- HTTPS, or a school's own network without it ------------------------------------------------------------

SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]
SECURE_HSTS_SECONDS = 30 * 24 * 60 * 60 if HTTPS else 0
# The server itself sets the scheme from HTTPS_PROXY's header and drops that header from anybody else.
SECURE_PROXY_SSL_HEADER = None
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
# Sent by security_headers_middleware, where the browser will accept it.
SECURE_CROSS_ORIGIN_OPENER_POLICY = None
X_FRAME_OPTIONS = "DENY"
# This host speaks for itself only: a school's other machines are not ours to force on to HTTPS or a list.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# --- static files -----------------------------------------------------------------------------------------

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static-built"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "classroom.static_storage.HashedStorage"},
}
WHITENOISE_USE_FINDERS = DEBUG
WHITENOISE_AUTOREFRESH = DEBUG

MEDIA_ROOT = PHOTO_DIR
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_HANDLERS = [
    "classroom.uploads.CappedUpload",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

# --- language and time ------------------------------------------------------------------------------------

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [BASE_DIR / "locale"]
FORMAT_MODULE_PATH = ["classroom.formats"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
# Another server process may have set the school's time zone: read it again after so many seconds.
SCHOOL_TIME_REREAD_S = 300

# --- log --------------------------------------------------------------------------------------------------

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {
            "()": "classroom.log.NamelessFormatter",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        # Warnings of django.request carry addresses that were asked for, join links among them.
        "django.request": {"level": "ERROR"},
        "waitress": {"level": "ERROR"},
    },
}
