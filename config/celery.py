"""The Celery application: one set of tasks, on Redis or on the embedded queue in a folder."""

import os
from pathlib import Path

from celery import Celery
from celery.signals import worker_ready

from config import folder_queue

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.dev")

folder_queue.register()
app = Celery("running_order")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@app.task(name="running_order.pulse")
def pulse(note: str = "") -> None:
    """Leave a sign of life where the readiness page finds it."""
    from django.conf import settings
    from django.utils import timezone

    path = Path(settings.PULSE_FILE)
    path.parent.mkdir(parents=True, exist_ok=True)
    part_written = path.with_name(f"{path.name}.part")
    part_written.write_text(f"{timezone.now().isoformat()} {note}\n", encoding="utf-8")
    part_written.replace(path)


@worker_ready.connect
def first_pulse(**kwargs: object) -> None:
    """Show life at once; the clock asks for the next one half a minute later."""
    pulse.delay()
