from django.contrib import admin
from django.urls import include, path

from fleet.views import health
from fleet.views.kit import kit

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("fleet.urls")),
    path("kit/", kit, name="kit"),
    path("", include("maintenance.urls")),
    path("", include("readiness.urls")),
    # Answered by HealthMiddleware before they get here; listed so that the table of who may see what is whole.
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
]

handler403 = "fleet.views.errors.refused"
handler404 = "fleet.views.errors.not_found"
handler500 = "fleet.views.errors.broken"
