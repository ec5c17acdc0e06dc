"""Plugins for every test. Fixtures of the museum itself are in tests/conftest.py."""

# Loaded first and whole: its operations module cannot be imported by itself when the run is on PostgreSQL.
import django.db.backends.sqlite3.base  # noqa: F401
from hypothesis import settings

pytest_plugins = ["tests.plugins.services", "tests.demo"]

# A property is judged by what it finds, not by how long a busy machine took for one example.
settings.register_profile("running order", deadline=None)
settings.load_profile("running order")
