"""Plugins for every test. Fixtures of the museum itself are in tests/conftest.py."""

pytest_plugins = ["tests.plugins.services"]
