"""The demo museum, built once for a module of tests and rolled back after it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction

from readiness.demo.build import build_demo, demo_saturday
from readiness.models import Event
from readiness.services import assessing


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: Any) -> Iterator[Event]:
    """The demo museum dated from today, assessed; what a test changes inside its own transaction is undone."""
    with django_db_blocker.unblock(), transaction.atomic():
        cache.clear()
        build_demo(saturday=demo_saturday(dt.date.today()))
        assessing.assess_wanted(force=True)
        yield Event.objects.get()
        transaction.set_rollback(True)
        cache.clear()
