"""Plugins for every test. Fixtures of the museum itself are in tests/conftest.py."""

# Loaded first and whole: its operations module cannot be imported by itself when the run is on PostgreSQL.
import django.db.backends.sqlite3.base  # noqa: F401

pytest_plugins = ["tests.plugins.services", "tests.demo"]
