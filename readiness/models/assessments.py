"""What was worked out: kept whole with its seed, version and input hash, so that every screen says the same number."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from readiness.models.events import Entry, Event


class Assessment(models.Model):
    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="assessments")
    made_at = models.DateTimeField(auto_now_add=True)
    judged_at = models.DateTimeField("clock of the judgement")
    seed = models.BigIntegerField()
    samples = models.PositiveIntegerField()
    engine_version = models.CharField(max_length=20)
    input_hash = models.CharField(max_length=64, db_index=True)
    result: models.JSONField[dict[str, Any], dict[str, Any]] = models.JSONField(default=dict)
    acts: models.JSONField[dict[str, Any], dict[str, Any]] = models.JSONField(
        "best single acts by entry", default=dict, blank=True
    )
    acts_at = models.DateTimeField(null=True, blank=True)
    is_latest = models.BooleanField(default=True)
    is_evening = models.BooleanField("the day's record", default=False)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["event"], condition=models.Q(is_latest=True), name="one_latest_assessment"
            )
        ]

    def __str__(self) -> str:
        return f"{self.event} {self.made_at:%d %b %H:%M}"


class DayRecord(models.Model):
    """One evening's forecast for one entry, and after the event whether it came true."""

    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="day_records")
    entry = models.ForeignKey(
        Entry, on_delete=models.SET_NULL, null=True, blank=True, related_name="day_records"
    )
    vehicle_code = models.CharField(max_length=20)
    slot_code = models.CharField(max_length=20)
    day = models.DateField()
    standing = models.CharField(max_length=12)
    percent = models.PositiveSmallIntegerField(null=True, blank=True)
    why = models.CharField("what moved it", max_length=300, blank=True)
    came_true = models.BooleanField(null=True, blank=True)

    class Meta:
        ordering = ["day", "vehicle_code", "slot_code"]
        constraints = [models.UniqueConstraint(fields=["entry", "day"], name="one_record_a_day")]

    def __str__(self) -> str:
        return f"{self.vehicle_code} {self.slot_code} {self.day:%d %b}: {self.percent}"


class Digest(models.Model):
    """A reminder for one person and one period. Claimed by a conditional update before it is sent."""

    person = models.ForeignKey("fleet.Person", on_delete=models.CASCADE, related_name="digests")
    kind = models.CharField(max_length=20)
    period = models.CharField(max_length=40)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField(blank=True)
    content_hash = models.CharField(max_length=64)
    message_id = models.CharField(max_length=120, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    trouble = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["person", "kind", "period"], name="one_digest_a_period")
        ]

    def __str__(self) -> str:
        return self.subject


class Done(models.Model):
    """This piece of clock work is done for this period; a second clock finds the row and stops."""

    job = models.CharField(max_length=60)
    period = models.CharField(max_length=40)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "period"], name="once_a_period")]

    def __str__(self) -> str:
        return f"{self.job} {self.period}"


class Printout(models.Model):
    """A paper that was printed: what it said is checked again by its code."""

    code = models.CharField(max_length=8, unique=True)
    kind = models.CharField(max_length=30)
    event = models.ForeignKey(
        Event, on_delete=models.CASCADE, null=True, blank=True, related_name="printouts"
    )
    vehicle = models.ForeignKey(
        "fleet.Vehicle", on_delete=models.CASCADE, null=True, blank=True, related_name="printouts"
    )
    printed_at = models.DateTimeField(auto_now_add=True)
    printed_by = models.ForeignKey(
        "fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-printed_at"]

    def __str__(self) -> str:
        return f"{self.kind} {self.code}"
