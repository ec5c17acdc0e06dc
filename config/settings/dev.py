"""For one machine: the demo and a museum trying it out. No Redis, no mail server, SQLite in data/."""

import secrets

from config import env

from .base import *

DEBUG = env.flag("DEBUG", False)
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]") if not DEBUG else ["*"]
if env.text("HOST") not in {"", "127.0.0.1", "localhost"}:
    # Listening to the network was asked for by name; the address bar may then hold any of this machine's names.
    ALLOWED_HOSTS = ["*"]

_key_file = DATA_DIR / "secret-key"
if env.text("SECRET_KEY"):
    SECRET_KEY = env.text("SECRET_KEY")
else:
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    if not _key_file.exists():
        _key_file.write_text(secrets.token_urlsafe(50))
        _key_file.chmod(0o600)
    SECRET_KEY = _key_file.read_text().strip()

STORAGES["staticfiles"] = {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"}
WHITENOISE_USE_FINDERS = True
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
