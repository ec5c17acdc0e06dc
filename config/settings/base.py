"""Settings shared by every way of running. Each environment name is described in docs/settings.md."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from config import env
from config.schedule import BEAT_SCHEDULE

BASE_DIR = Path(__file__).resolve().parent.parent.parent
DATA_DIR = Path(env.text("DATA_DIR") or BASE_DIR / "data")

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "template_partials",
    "axes",
    "fleet.apps.FleetConfig",
    "maintenance.apps.MaintenanceConfig",
    "readiness.apps.ReadinessConfig",
]

MIDDLEWARE = [
    "fleet.views.health.HealthMiddleware",
    "fleet.proxy.CallerAddressMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "fleet.http.ContentPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "fleet.http.MuseumClockMiddleware",
    "fleet.http.SignInRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
ASGI_APPLICATION = "config.asgi.application"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleet.http.look_context",
            ],
            "builtins": ["fleet.templatetags.look"],
        },
    }
]

_database_url = env.text("DATABASE_URL")
if _database_url:
    DATABASES = {"default": env.database(_database_url)}
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "running-order.sqlite3",
            # Rollback journal on purpose: WAL can corrupt with two writers on SQLite below 3.51.3.
            "OPTIONS": {
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                "init_command": "PRAGMA journal_mode=DELETE; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
            },
        }
    }

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "fleet.Person"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "fleet:sign_in"
LOGIN_REDIRECT_URL = "readiness:board"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "fleet.views.errors.csrf_failed"

# Ten wrong passwords for one account from one address, then a wait; the owner elsewhere is never locked out.
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "fleet.views.people.locked_out"
AXES_USERNAME_FORM_FIELD = "username"
AXES_VERBOSE = False
AXES_ENABLE_ADMIN = False

# How many proxies stand in front, each trusted to say who called it.
BEHIND_PROXY = env.flag("BEHIND_PROXY", False)
PROXIES = env.whole("PROXIES", 1) if BEHIND_PROXY else 0

LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True
TIME_ZONE = env.text("TIME_ZONE", "Europe/London")

STATIC_URL = "/static/"
STATIC_ROOT = Path(env.text("STATIC_ROOT") or DATA_DIR / "static")
STATICFILES_DIRS = [BASE_DIR / "static"]
MEDIA_ROOT = DATA_DIR / "media"
MEDIA_URL = "/photos/"  # never served by the web server: each photograph is asked for by a signed-in person
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
FILE_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 16 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 4000

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# Shaped like Django 6's own setting, so that the middleware can be deleted when that is the floor.
SECURE_CSP = {
    "default-src": ["'self'"],
    "img-src": ["'self'", "data:", "blob:"],
    "object-src": ["'none'"],
    "base-uri": ["'none'"],
    "form-action": ["'self'"],
    "frame-ancestors": ["'none'"],
}

EMAIL_HOST = env.text("EMAIL_HOST")
# Without a mail server each letter is laid down as a file, where somebody can read what would have gone out.
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'filebased'}.EmailBackend"
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_PORT = env.whole("EMAIL_PORT", 25)
EMAIL_HOST_USER = env.text("EMAIL_HOST_USER")
EMAIL_HOST_PASSWORD = env.text("EMAIL_HOST_PASSWORD")
EMAIL_USE_TLS = env.flag("EMAIL_USE_TLS")
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.text("EMAIL_FROM", "running-order@localhost")
SITE_ADDRESS = env.text("SITE_ADDRESS", "http://127.0.0.1:8000").rstrip("/")

REDIS_URL = env.text("REDIS_URL")
QUEUE_DIR = DATA_DIR / "queue"
CELERY_BROKER_URL = REDIS_URL or "folder://localhost//"
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = {} if REDIS_URL else {"folder": str(QUEUE_DIR)}
# The embedded queue cannot shout to all workers; nothing here needs it to.
CELERY_WORKER_ENABLE_REMOTE_CONTROL = bool(REDIS_URL)
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA_DIR / "beat-schedule")
# The worker touches this file twice a minute; its age tells whether clock, queue and worker all live.
PULSE_FILE = DATA_DIR / "pulse"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 600
CELERY_TIMEZONE = TIME_ZONE
CELERY_BEAT_SCHEDULE = BEAT_SCHEDULE
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# A web request never waits long for the queue: the row that asks for the work is already committed, the sweep finds it.
CELERY_TASK_PUBLISH_RETRY = False
CELERY_BROKER_CONNECTION_TIMEOUT = 2

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "fleet.logs.JsonLine"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.text("LOG_LEVEL", "WARNING")},
    "loggers": {"running_order": {"level": env.text("LOG_LEVEL", "INFO")}},
}

# How many samples the forecast draws, and the seed all assessments share so that a what-if is paired with the board.
FORECAST_SAMPLES = env.whole("FORECAST_SAMPLES", 2000)
FORECAST_SEED = env.whole("FORECAST_SEED", 20260)
SLIP_POSTS_PER_HOUR = env.whole("SLIP_POSTS_PER_HOUR", 12)
