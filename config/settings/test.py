"""For the tests: fast hashing, mail kept in memory, tasks run in place unless a test starts a real worker."""

import tempfile
from pathlib import Path

from config import env

from .base import *

DEBUG = False
SECRET_KEY = "only-for-tests"  # noqa: S105
ALLOWED_HOSTS = ["*"]
_scratch = Path(tempfile.mkdtemp(prefix="running-order-test-"))
MEDIA_ROOT = _scratch / "media"
QUEUE_DIR = _scratch / "queue"
PULSE_FILE = _scratch / "pulse"
if not REDIS_URL:
    CELERY_BROKER_TRANSPORT_OPTIONS = {"folder": str(QUEUE_DIR)}
if not env.text("DATABASE_URL"):
    DATABASES["default"]["NAME"] = _scratch / "test.sqlite3"
    DATABASES["default"]["TEST"] = {"NAME": None}
if env.text("DATABASE_URL"):
    # A file answer that a test leaves unread closes "old" connections when it is swept up, in the middle of another test.
    DATABASES["default"]["CONN_MAX_AGE"] = None
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = False
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
WHITENOISE_AUTOREFRESH = True
CELERY_TASK_ALWAYS_EAGER = True
CELERY_TASK_EAGER_PROPAGATES = True
AXES_ENABLED = False
FORECAST_SAMPLES = 200
# So that the coverage of templates can be counted line by line.
TEMPLATES[0]["OPTIONS"]["debug"] = True
