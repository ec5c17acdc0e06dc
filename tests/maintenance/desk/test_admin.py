"""The admin site is for the administrator alone; what is written by an act is only looked at there."""

import pytest
from django.apps import apps
from django.contrib import admin
from django.urls import reverse

from fleet.models import Act
from maintenance.admin import CHANGED, READ
from maintenance.models import Place


def test_every_table_of_the_workshop_is_in_one_of_the_two_lists():
    assert set(CHANGED) | set(READ) == set(apps.get_app_config("maintenance").get_models())
    assert not set(CHANGED) & set(READ)


@pytest.mark.parametrize("role", ["driver", "mechanic", "lead", "coordinator", "manager", "curator"])
def test_nobody_but_the_administrator_comes_in(role, cast, login):
    answer = login(getattr(cast, role)).get(reverse("admin:maintenance_jobcard_changelist"))
    assert answer.status_code in {302, 403}
    assert "result_list" not in answer.content.decode()


@pytest.mark.parametrize(
    "model", sorted([*CHANGED, *READ], key=lambda one: one.__name__), ids=lambda one: one.__name__
)
def test_every_list_opens(model, shed, cast, login):
    assert (
        login(cast.administrator)
        .get(reverse(f"admin:maintenance_{model._meta.model_name}_changelist"))
        .status_code
        == 200
    )


@pytest.mark.parametrize("model", sorted(READ, key=lambda one: one.__name__), ids=lambda one: one.__name__)
def test_what_is_kept_is_neither_added_nor_changed_nor_deleted(model, rf, administrator):
    request = rf.get("/admin/")
    request.user = administrator
    site = admin.site._registry[model]
    assert site.has_view_permission(request)
    assert not (
        site.has_add_permission(request)
        or site.has_change_permission(request)
        or site.has_delete_permission(request)
    )


def test_a_change_posted_at_a_kept_row_is_refused(shed, cast, login):
    answer = login(cast.administrator).post(
        reverse("admin:maintenance_jobcard_change", args=[shed.card.pk]), {"title": "Painted pink"}
    )
    assert answer.status_code == 403
    shed.card.refresh_from_db()
    assert shed.card.title == "Fit new linings"


def test_a_changed_place_is_written_in_the_act_book(shed, cast, login):
    place = Place.objects.create(name="bay 1")
    url = reverse("admin:maintenance_place_change", args=[place.pk])
    assert login(cast.administrator).post(url, {"name": "bay 2", "capacity": 1}).status_code == 302
    line = Act.objects.get(act="admin.change")
    assert (line.by, line.detail) == (cast.administrator, {"fields": ["name"]})
