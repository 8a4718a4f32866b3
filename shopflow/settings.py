"""Settings, all read from the environment; the defaults run one shop on one machine."""

from __future__ import annotations

import secrets
from contextlib import suppress
from pathlib import Path

from celery.schedules import crontab
from django.core.exceptions import ImproperlyConfigured

from shopflow.common import broker, env
from shopflow.common.logs import tell_who

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.folder("SHOPFLOW_DATA", BASE_DIR / "var")

DEBUG = env.flag("SHOPFLOW_DEBUG", default=False)
# Behind a proxy that speaks HTTPS; off on a shop's own network without a public name.
HTTPS = env.flag("SHOPFLOW_HTTPS", default=False)


def _secret_key() -> str:
    """The key from the environment, or one made at the first start and kept in the data folder."""
    given = env.text("SHOPFLOW_SECRET_KEY")
    if given and len(given) < 50:
        raise ImproperlyConfigured("SHOPFLOW_SECRET_KEY: at least 50 characters")
    if given:
        return given
    kept = DATA_DIR / "secret-key"
    if not kept.exists():
        # Whole before it has its name: two processes that start together must agree on one key.
        fresh = DATA_DIR / f"secret-key.{secrets.token_hex(4)}"
        fresh.touch(mode=0o600)
        fresh.write_text(secrets.token_urlsafe(64))
        with suppress(FileExistsError):
            kept.hardlink_to(fresh)
        fresh.unlink()
    return kept.read_text().strip()


SECRET_KEY = _secret_key()
SECRET_KEY_FALLBACKS = env.words("SHOPFLOW_OLD_SECRET_KEYS")
ALLOWED_HOSTS = env.words("SHOPFLOW_HOSTS", "*" if not HTTPS else "localhost")
CSRF_TRUSTED_ORIGINS = env.words("SHOPFLOW_ORIGINS")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "shopflow.common",
    "shopflow.people",
    "shopflow.catalogue",
    "shopflow.customers",
    "shopflow.instruments",
    "shopflow.photos",
    "shopflow.workshop",
    "shopflow.readings",
    "shopflow.offers",
    "shopflow.planning",
    "shopflow.reports",
    "shopflow.demo",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    # Before the static files, which are the most of what a tablet loads first.
    "django.middleware.gzip.GZipMiddleware",
    "shopflow.common.middleware.security_headers",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shopflow.people.middleware.who_is_here",
    "shopflow.catalogue.middleware.in_this_shop",
    "django.contrib.messages.middleware.MessageMiddleware",
    "shopflow.people.middleware.own_password_first",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "shopflow.common.middleware.htmx_manners",
]

ROOT_URLCONF = "shopflow.urls"
ASGI_APPLICATION = "shopflow.asgi.application"
WSGI_APPLICATION = "shopflow.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.debug",
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shopflow.catalogue.context.shop",
                "shopflow.people.context.house",
            ],
        },
    },
]

# A tap that was answered must survive a power cut, hence FULL; IMMEDIATE because a read lock
# that has to become a write lock fails at once, whatever the timeout.
SQLITE = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": DATA_DIR / "shop.sqlite3",
    "OPTIONS": {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL;"
            f"PRAGMA synchronous={env.one_of('SHOPFLOW_SQLITE_SYNC', 'FULL', 'EXTRA', 'NORMAL')};"
            "PRAGMA mmap_size=134217728;PRAGMA cache_size=-20000;PRAGMA temp_store=MEMORY;"
            "PRAGMA journal_size_limit=27103364"
        ),
    },
}
DATABASES = {"default": env.database("DATABASE_URL", SQLITE)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "people.Person"
LOGIN_URL = "people:sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "people:sign-in"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
# Rows are kept in UTC; the shop's own zone is data (catalogue.Shop.time_zone) and set per request.
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = DATA_DIR / "photos"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}

FILE_UPLOAD_HANDLERS = [
    "shopflow.photos.limit.StopAtTheLimit",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 1_000
DATA_UPLOAD_MAX_NUMBER_FILES = 20
PHOTO_MAX_BYTES = env.whole_number("SHOPFLOW_PHOTO_MAX_MB", 25, least=1, most=200) * 1_000_000
PHOTO_MAX_PIXELS = 50_000_000

# A sign-in ends after 12 hours (people/presence.py); its cookie lives on, so that a form sent too late is
# known as that person's and not lost.
SESSION_COOKIE_AGE = 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "shopflow.people.views.held.page_too_old"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if HTTPS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = 31_536_000
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"

EMAIL_BACKEND = (
    "django.core.mail.backends.smtp.EmailBackend"
    if env.text("SHOPFLOW_EMAIL_HOST")
    else "shopflow.common.mail.OneLineEach"
)
EMAIL_HOST = env.text("SHOPFLOW_EMAIL_HOST", "localhost")
EMAIL_PORT = env.whole_number("SHOPFLOW_EMAIL_PORT", 25, least=1, most=65535)
EMAIL_HOST_USER = env.text("SHOPFLOW_EMAIL_USER")
EMAIL_HOST_PASSWORD = env.text("SHOPFLOW_EMAIL_PASSWORD")
EMAIL_USE_TLS = env.flag("SHOPFLOW_EMAIL_TLS", default=False)
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.text("SHOPFLOW_EMAIL_FROM", "workshop@quillmere.example")

CELERY_BROKER_URL = env.text("CELERY_BROKER_URL", broker.NOBODY)
CELERY_BROKER_TRANSPORT_OPTIONS = broker.transport_options(CELERY_BROKER_URL, DATA_DIR)
CELERY_TIMEZONE = "UTC"
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_IGNORE_RESULT = True
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "shopflow.common.background.sweep", "schedule": 15.0, "options": {"expires": 30}},
    # Looks whether a finished week wants its report, see reports/background.py.
    "weekly report": {
        "task": "shopflow.reports.background.look",
        "schedule": crontab(minute="*/15"),
        "options": {"expires": 600},
    },
    # Looks whether the shop was planned since the night, see planning/background.py.
    "nightly plan": {
        "task": "shopflow.planning.background.look",
        "schedule": crontab(minute="*/15"),
        "options": {"expires": 600},
    },
    # Findings whose work is signed, see offers/services/mended.py.
    "what is mended": {
        "task": "shopflow.offers.background.look_what_is_mended",
        "schedule": crontab(minute=41),
        "options": {"expires": 3000},
    },
    "lists nobody brought in": {
        "task": "shopflow.workshop.background.forget_files",
        "schedule": crontab(minute=17),
        "options": {"expires": 3000},
    },
}

LOG_LEVEL = env.one_of("SHOPFLOW_LOG", "WARNING", "DEBUG", "INFO", "ERROR")
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "()": "shopflow.common.logs.WithoutSecrets",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "filters": {"who": {"()": "django.utils.log.CallbackFilter", "callback": tell_who}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["who"]}},
    "root": {"handlers": ["console"], "level": LOG_LEVEL},
    "loggers": {"shopflow": {"level": "INFO"}},
}
