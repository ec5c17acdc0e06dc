"""A look behind the pages, for the administrator alone.

What is history here (readings, acts, facts, checks, who came) can be read and not changed: corrections go through
the pages, which keep what stood before. Whatever is changed here is written in the act book as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from fleet import models
from fleet.http import forget_museum
from fleet.services import acts

if TYPE_CHECKING:
    Page = admin.ModelAdmin[Any]
else:
    Page = admin.ModelAdmin


class Kept(Page):
    """May be changed, never rubbed out; each change is one line in the act book."""

    list_per_page = 50

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: Model, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        by = request.user if isinstance(request.user, models.Person) else None
        vehicle = obj if isinstance(obj, models.Vehicle) else getattr(obj, "vehicle", None)
        acts.record(
            act="admin.change" if change else "admin.add", by=by, subject=obj, vehicle=vehicle,
            detail={"fields": sorted(form.changed_data)},
        )  # fmt: skip
        acts.fleet_announce("admin.change", vehicle.pk if vehicle is not None else None)


class ReadOnly(Page):
    """To be read; the pages are where it is added to."""

    list_per_page = 50

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(models.Person)
class PersonAdmin(ReadOnly):
    """Roles decide who may do what, so they change on the people pages, where the last administrator is kept."""

    list_display = ("name", "code", "username", "engagement", "is_active", "left_on")
    list_filter = ("is_active", "engagement")
    search_fields = ("name", "code", "username")
    exclude = ("password", "pin", "groups", "user_permissions", "is_superuser")


@admin.register(models.Museum)
class MuseumAdmin(Kept):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def save_model(self, request: HttpRequest, obj: Model, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        forget_museum()


@admin.register(models.Vehicle)
class VehicleAdmin(Kept):
    list_display = ("number", "name", "code", "kind", "status", "place")
    list_filter = ("status", "kind")
    search_fields = ("number", "name", "code")
    readonly_fields = ("status", "status_since", "status_reason")


@admin.register(models.Subsystem)
class SubsystemAdmin(Kept):
    list_display = ("name", "code", "vehicle", "order")
    list_select_related = ("vehicle",)
    search_fields = ("name", "code", "vehicle__number")


@admin.register(models.Paper)
class PaperAdmin(Kept):
    list_display = ("vehicle", "kind", "reference", "valid_through")
    list_select_related = ("vehicle",)


@admin.register(models.Skill)
class SkillAdmin(Kept):
    search_fields = ("name",)


@admin.register(models.WorkPattern)
class WorkPatternAdmin(Kept):
    list_display = ("person", "weekday", "every_weeks", "counted_from")
    list_select_related = ("person",)


@admin.register(models.DayException)
class DayExceptionAdmin(Kept):
    list_display = ("person", "day", "is_in", "reason")
    list_select_related = ("person",)


@admin.register(models.Act)
class ActAdmin(ReadOnly):
    list_display = ("at", "by_name", "act", "subject_label")
    list_filter = ("act",)
    search_fields = ("by_name", "subject_label")


@admin.register(models.MeterReading)
class MeterReadingAdmin(ReadOnly):
    list_display = ("meter", "shown", "total", "read_at", "meter_changed")
    list_select_related = ("meter__vehicle",)


@admin.register(models.Competence)
class CompetenceAdmin(ReadOnly):
    list_display = ("person", "kind", "vehicle", "area", "valid_through", "checked_by")
    list_select_related = ("person", "vehicle")


@admin.register(models.SignIn)
class SignInAdmin(ReadOnly):
    list_display = ("person", "day", "came", "arrived", "left")
    list_select_related = ("person",)


@admin.register(models.Fact)
class FactAdmin(ReadOnly):
    list_display = ("vehicle", "about", "value", "sureness", "recorded_on")
    list_select_related = ("vehicle",)


@admin.register(models.Meter, models.Outing, models.Photo, models.Serial)
class RestAdmin(ReadOnly):
    pass


def one_door(request: HttpRequest, extra_context: Any = None) -> HttpResponse:
    """There is one place to sign in: the one that counts wrong tries and asks for a password after a code."""
    if request.user.is_authenticated:
        raise PermissionDenied("Only the administrator may look behind the pages.")
    return redirect_to_login(request.GET.get("next") or reverse("admin:index"))


def own_password(request: HttpRequest, extra_context: Any = None) -> HttpResponse:
    return redirect("fleet:password")


admin.site.login = one_door  # type: ignore[method-assign]
admin.site.password_change = own_password  # type: ignore[assignment, method-assign]
admin.site.site_header = "Running Order: behind the pages"
admin.site.site_title = "Running Order"
admin.site.index_title = "What is kept"
