"""Addresses used with a phone in the hand: at the vehicle, in the yard, without a sign-in for the fault slip."""

from __future__ import annotations

from django.urls import path

from maintenance.views import job_card, jobs, labels, scan, slip

urlpatterns = [
    path("jobs/mine/", jobs.my_jobs, name="my_jobs"),
    path("jobs/<int:pk>/", job_card.card, name="card"),
    path("jobs/<int:pk>/verdict/<int:measure>/", job_card.verdict, name="verdict"),
    path("t/<str:token>/", slip.slip, name="slip"),
    path("vehicles/<str:code>/report/", slip.report, name="report"),
    path("scan/", scan.scan, name="scan"),
    path("vehicles/<str:code>/tag-sheet/", labels.labels, name="labels"),
    path("tag-sheets/", labels.all_labels, name="labels_all"),
    path("tags/<int:pk>/label/", labels.tag_label, name="tag_label"),
]
