from django.contrib import admin
from django.urls import path

from fleet.views import health

urlpatterns = [
    path("admin/", admin.site.urls),
    # Answered by HealthMiddleware before they get here; listed so that the table of who may see what is whole.
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
]
