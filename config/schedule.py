"""What the clock starts. Each task asks the database whether its period is already done, so a second clock is harmless."""

from celery.schedules import crontab

BEAT_SCHEDULE = {
    "pulse": {"task": "running_order.pulse", "schedule": 30.0},
    "re-queue unfinished work": {"task": "readiness.sweep", "schedule": 60.0},
    "evening forecast": {"task": "readiness.evening_forecast", "schedule": crontab(hour="21", minute="10")},
    "reminder digests": {"task": "readiness.send_digests", "schedule": crontab(minute="5,35")},
    "make due inspection cards": {
        "task": "maintenance.make_due_cards",
        "schedule": crontab(hour="3", minute="20"),
    },
    "clear old names": {"task": "maintenance.clear_old_names", "schedule": crontab(hour="3", minute="40")},
}
