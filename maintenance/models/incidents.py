"""An accident or a near miss: a plain record, to which is only ever added."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from maintenance.enums import Hurt, IncidentKind
from maintenance.models.defects import Tag


class Incident(models.Model):
    """What happened, who was hurt, what was done at once. A vehicle in it is held as found until it is released."""

    serial = models.CharField(max_length=12, unique=True)
    kind = models.CharField(max_length=10, choices=IncidentKind.choices)
    vehicle = models.ForeignKey(
        Vehicle, on_delete=models.PROTECT, null=True, blank=True, related_name="incidents"
    )
    happened_at = models.DateTimeField()
    place = models.CharField(max_length=120)
    what = models.TextField("what happened")
    hurt = models.CharField(max_length=10, choices=Hurt.choices, default=Hurt.NOBODY)
    who_hurt = models.CharField("who was hurt, and how", max_length=300, blank=True)
    witnesses = models.CharField("who saw it", max_length=300, blank=True)
    done_at_once = models.TextField("what was done at once", blank=True)
    photos = models.ManyToManyField(Photo, blank=True, related_name="incidents")
    reported_at = models.DateTimeField(default=timezone.now)
    reported_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    tag = models.OneToOneField(Tag, on_delete=models.PROTECT, null=True, blank=True, related_name="incident")
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    released_words = models.TextField("what was looked at before it was released", blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    learnt = models.TextField("what was learnt, and what is done differently", blank=True)

    class Meta:
        ordering = ["-happened_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.serial} {self.get_kind_display()}"

    @property
    def holds(self) -> bool:
        """The vehicle stays as it was found: nothing is moved, stripped or put right yet."""
        return self.vehicle_id is not None and self.released_at is None


class IncidentNote(models.Model):
    """A dated addition; what was written first stays as it is."""

    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="notes")
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    text = models.TextField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text[:60]
