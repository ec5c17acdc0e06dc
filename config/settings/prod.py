"""For a museum's server. Refuses to start until it is told who it is."""

from config import env

from .base import *

DEBUG = False
SECRET_KEY = env.required("SECRET_KEY", "a-long-random-text (see docs/install.md)")
ALLOWED_HOSTS = [
    name.strip() for name in env.required("ALLOWED_HOSTS", "board.example.org").split(",") if name.strip()
]
SITE_ADDRESS = env.required("SITE_ADDRESS", "https://board.example.org").rstrip("/")
CSRF_TRUSTED_ORIGINS = [SITE_ADDRESS]

_secure = SITE_ADDRESS.startswith("https://")
SESSION_COOKIE_SECURE = _secure
CSRF_COOKIE_SECURE = _secure
SECURE_SSL_REDIRECT = False  # the proxy redirects; health checks arrive plain on the inner network
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
SECURE_HSTS_SECONDS = env.whole("HSTS_SECONDS", 3600) if _secure else 0
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # other hosts of the museum's domain may not speak TLS; that is theirs to decide
    "security.W008",  # the proxy redirects to https, see SECURE_SSL_REDIRECT
    "security.W021",  # a preload list is for public sites
]

# Shared by all web processes: the count of wrong second-signature proofs and the museum's row live here.
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    if REDIS_URL
    else {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": str(DATA_DIR / "cache"),
    }
}
