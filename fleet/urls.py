"""Addresses of people, vehicles and the museum."""

from __future__ import annotations

from django.urls import path, re_path

from fleet.views import account, days, facts, first, lamp, museum, people, photos, usage, vehicles

app_name = "fleet"
vehicle = "vehicles/<slug:code>"

urlpatterns = [
    path("sign-in/", account.sign_in, name="sign_in"),
    path("sign-in/new-password/", account.new_password, name="new_password"),
    path("sign-in/forgot/", account.forgot, name="forgot"),
    path("sign-in/reset/<str:uid>/<str:token>/", account.reset, name="reset"),
    path("sign-out/", account.sign_out, name="sign_out"),
    path("lamp/", lamp.lamp, name="lamp"),
    path("first/", first.first, name="first"),
    path("me/", account.me, name="me"),
    path("me/contact/", account.contact, name="contact"),
    path("me/password/", account.password, name="password"),
    path("me/pin/", account.pin, name="pin"),
    path("people/", people.people, name="people"),
    path("people/add/", people.person_new, name="person_add"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/change/", people.person_edit, name="person_change"),
    path("people/<int:pk>/leave/", people.leave, name="person_leave"),
    path("people/<int:pk>/code/", people.code, name="person_code"),
    path("people/<int:pk>/checked/", people.competence, name="competence"),
    path("people/<int:pk>/days/", days.pattern, name="pattern"),
    path("workshop/days/", days.days, name="days"),
    path("workshop/days/<str:day>/", days.sheet, name="day"),
    path("workshop/days/<str:day>/came/", days.came, name="came"),
    path("workshop/days/<str:day>/print/", days.sheet_print, name="day_print"),
    path("vehicles/", vehicles.vehicles, name="vehicles"),
    path("vehicles/add/", vehicles.vehicle_new, name="vehicle_add"),
    path(f"{vehicle}/change/", vehicles.vehicle_edit, name="vehicle_change"),
    path(f"{vehicle}/status/", vehicles.vehicle_status, name="vehicle_status"),
    path(f"{vehicle}/tag-key/", vehicles.tag_key, name="tag_key"),
    path(f"{vehicle}/meters/", usage.meters, name="meters"),
    path(f"{vehicle}/meters/add/", usage.meter_new, name="meter_add"),
    path(f"{vehicle}/outings/", usage.outings, name="outings"),
    path(f"{vehicle}/papers/", vehicles.papers, name="papers"),
    path(f"{vehicle}/facts/", facts.facts, name="facts"),
    path(f"{vehicle}/facts/<int:pk>/", facts.fact, name="fact"),
    path(f"{vehicle}/facts/<int:pk>/correct/", facts.correct, name="fact_correct"),
    path(f"{vehicle}/photos/", photos.photos, name="photos"),
    path(f"{vehicle}/systems/", vehicles.systems, name="systems"),
    path(f"{vehicle}/systems/<int:pk>/", vehicles.system, name="system"),
    re_path(r"^photos/(?P<pk>[0-9]{1,18})/(?P<size>small|large)\.jpg$", photos.photo, name="photo"),
    path("settings/", museum.settings, name="settings"),
]
