"""Signing in and out, passwords, and a person's own page."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe
from kombu.exceptions import OperationalError

from fleet.forms.account import (
    ContactForm,
    ForgotForm,
    NewPasswordForm,
    PasswordForm,
    PinForm,
    SignInForm,
    days_words,
)
from fleet.http import open_to_all
from fleet.models import Person
from fleet.queries.days import own_days
from fleet.services.first import nobody_yet
from fleet.services.own import contact_set
from fleet.services.people import password_set, pin_set
from fleet.services.reset import mail_is_set_up, person_of_link
from fleet.tasks import reset_letters
from fleet.views.about import doors
from fleet.views.access import answer, page_or_act, person_of, safe_next

BACKEND = "django.contrib.auth.backends.ModelBackend"
CODE_MINUTES = 15
LETTERS_AN_HOUR = 5


@open_to_all
@sensitive_post_parameters("password")
@never_cache
@page_or_act
def sign_in(request: HttpRequest) -> HttpResponse:
    to = safe_next(request)
    if request.user.is_authenticated:
        return redirect(to)
    if nobody_yet():
        return redirect("fleet:first")
    form = SignInForm(request.POST if request.method == "POST" else None, request=request)
    if form.is_bound and form.is_valid() and form.person is not None:
        if form.person.must_change_password:
            _remember(request, form.person, to)
            return redirect("fleet:new_password")
        login(request, form.person)
        return redirect(to)
    return answer(request, "fleet/sign_in.html", form, {"to": to, "mail": mail_is_set_up()})


def _remember(request: HttpRequest, person: Person, to: str) -> None:
    """A right code opens one page only: the one that asks for a password of one's own."""
    request.session.cycle_key()
    until = timezone.now() + dt.timedelta(minutes=CODE_MINUTES)
    request.session["code_used"] = {
        "pk": person.pk, "hash": person.get_session_auth_hash(), "until": until.isoformat(), "to": to,
    }  # fmt: skip


def _code_holder(request: HttpRequest) -> tuple[Person | None, dict[str, Any]]:
    held: dict[str, Any] = request.session.get("code_used") or {}
    person = Person.objects.filter(pk=held.get("pk", 0), is_active=True, must_change_password=True).first()
    if person is None or timezone.now() > dt.datetime.fromisoformat(held["until"]):
        return None, held
    same = constant_time_compare(held["hash"], person.get_session_auth_hash())
    return (person if same else None), held


@open_to_all
@sensitive_post_parameters("new", "again")
@never_cache
@page_or_act
def new_password(request: HttpRequest) -> HttpResponse:
    """After a one-time code, and before anything else: a password of one's own."""
    person, held = _code_holder(request)
    if person is None:
        return redirect("fleet:sign_in")
    form = NewPasswordForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(password_set, person=person):
        del request.session["code_used"]
        login(request, form.result, backend=BACKEND)
        return redirect(held["to"])
    return answer(request, "fleet/new_password.html", form, {"whose": person})


@open_to_all
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("fleet:sign_in")


@open_to_all
@never_cache
@page_or_act
def forgot(request: HttpRequest) -> HttpResponse:
    """Answers alike whether anybody goes by that address or not; the letter itself leaves in the background."""
    form = ForgotForm(request.POST if request.method == "POST" and mail_is_set_up() else None)
    sent = False
    if form.is_bound and form.is_valid() and _may_ask(request, form):
        try:
            reset_letters.delay(form.cleaned_data["who"])
            sent = True
        except OperationalError:
            form.add_error(
                None, "No letter can leave just now. Try again later, or ask the administrator for a code."
            )
    words = {"mail": mail_is_set_up(), "sent": sent, "good_for": days_words(settings.PASSWORD_RESET_TIMEOUT)}
    return answer(request, "fleet/forgot.html", form, words)


def _may_ask(request: HttpRequest, form: ForgotForm) -> bool:
    key = f"reset-letters-{request.META.get('REMOTE_ADDR', '')}"
    cache.add(key, 0, 3600)
    if cache.incr(key) <= LETTERS_AN_HOUR:
        return True
    form.add_error(
        None, "Several letters were asked for from here already. Wait an hour, or ask the administrator."
    )
    return False


@open_to_all
@sensitive_post_parameters("new", "again")
@never_cache
@page_or_act
def reset(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    person = person_of_link(uid, token)
    if person is None:
        page = render(request, "fleet/reset_stale.html", {"mail": mail_is_set_up()}, status=410)
    else:
        form = NewPasswordForm(request.POST if request.method == "POST" else None)
        if form.is_bound and form.done(password_set, person=person):
            messages.success(request, "Your new password is set. Sign in with it.")
            return redirect("fleet:sign_in")
        page = answer(request, "fleet/new_password.html", form, {"whose": person})
    page["Referrer-Policy"] = "no-referrer"  # the link is a key until it is used
    return page


@require_safe
def me(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    words = {
        "person": person, "skills": list(person.skills.all()),
        "days": own_days(person, timezone.localdate()), "week_url": reverse("fleet:pattern", args=[person.pk]),
    }  # fmt: skip
    return render(request, "fleet/me.html", {**words, "doors": doors(request)})


@page_or_act
def contact(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    form = ContactForm(request.POST if request.method == "POST" else None, row=person)
    if form.is_bound and form.done(contact_set, by=person):
        messages.success(request, "Your address and telephone are written down.")
        return redirect("fleet:me")
    return answer(
        request, "fleet/own_form.html", form, {"title": "How to reach you", "button": "Write it down"}
    )


@sensitive_post_parameters("old", "new", "again")
@never_cache
@page_or_act
def password(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    form = PasswordForm(request.POST if request.method == "POST" else None, person=person)
    if form.is_bound and form.done(password_set, person=person):
        update_session_auth_hash(request, form.result)  # this sign-in goes on under a new key; all others end
        messages.success(request, "Your password is changed. Other phones and computers are signed out.")
        return redirect("fleet:me")
    return answer(
        request, "fleet/own_form.html", form, {"title": "Change your password", "button": "Change it"}
    )


@sensitive_post_parameters("pin", "again")
@never_cache
@page_or_act
def pin(request: HttpRequest) -> HttpResponse:
    person = person_of(request)
    form = PinForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.done(pin_set, by=person):
        messages.success(request, "Your PIN is set." if form.result.pin else "Your PIN is taken away.")
        return redirect("fleet:me")
    return answer(request, "fleet/own_form.html", form, {"title": "Your PIN", "button": "Keep it"})
