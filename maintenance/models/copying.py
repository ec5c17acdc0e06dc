"""Readings on cardboard: the photograph waits until somebody has typed them in."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from fleet.models import Person, Photo, Vehicle
from maintenance.models.jobs import JobCard
from maintenance.models.readings import Reading


class ToCopy(models.Model):
    """A photograph of readings on paper or cardboard, to be copied into the book."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="to_copy")
    card = models.ForeignKey(JobCard, on_delete=models.PROTECT, null=True, blank=True, related_name="to_copy")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="to_copy")
    words = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    readings = models.ManyToManyField(Reading, blank=True, related_name="copied_from")
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    done_words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"readings on paper, {self.vehicle}, {timezone.localdate(self.at):%d %b %Y}"
