"""The Celery application: one set of tasks, on Redis or on the embedded file queue."""

import os
from pathlib import Path

from celery import Celery
from celery.signals import worker_init

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.dev")

app = Celery("running_order")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@worker_init.connect
def make_queue_folders(**kwargs: object) -> None:
    """The file transport does not make its own folders."""
    from django.conf import settings

    prepare_queue(settings.CELERY_BROKER_TRANSPORT_OPTIONS if not settings.REDIS_URL else {})


def prepare_queue(options: dict[str, object]) -> None:
    for key in ("data_folder_in", "control_folder", "processed_folder"):
        if key in options:
            Path(str(options[key])).mkdir(parents=True, exist_ok=True)
