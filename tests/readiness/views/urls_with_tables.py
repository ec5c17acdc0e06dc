"""The whole site with the pages of the tables in their namespace, wherever they are wired."""

from django.urls import include, path

from config.urls import handler403, handler404, handler500
from config.urls import urlpatterns as all_of_it
from readiness import urls, urls_import

assert handler403
assert handler404
assert handler500
named = {pattern.name for pattern in urls.urlpatterns}
wired = [*urls.urlpatterns, *(p for p in urls_import.urlpatterns if p.name not in named)]
urlpatterns = [
    *(entry for entry in all_of_it if getattr(entry, "namespace", "") != "readiness"),
    path("", include((wired, "readiness"))),
]
