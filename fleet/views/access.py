"""Who may open a page, and the few habits that every page shares."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from fleet.models import Person
from fleet.rules import ACTS, may, refusal

View = Callable[..., HttpResponse]

page_or_act = require_http_methods(["GET", "HEAD", "POST"])


def needs(*acts: str, words: str = "") -> Callable[[View], View]:
    """Open to whoever may do one of these acts of the rules table; all others are told who may."""
    if unknown := set(acts) - set(ACTS):  # a misspelt act stops the start, not a visitor
        raise LookupError(f"no such act: {', '.join(sorted(unknown))}")

    def wrap(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not any(may(request.user, act) for act in acts):
                raise PermissionDenied(words or refusal(acts[0]))
            return view(request, *args, **kwargs)

        return guarded

    return wrap


def must(request: HttpRequest, act: str) -> None:
    """For a page that everybody may read and only some may write on."""
    if request.method == "POST" and not may(request.user, act):
        raise PermissionDenied(refusal(act))


def person_of(request: HttpRequest) -> Person:
    """Whoever signed in."""
    if not isinstance(request.user, Person):
        raise PermissionDenied("Sign in first.")
    return request.user


def answer(
    request: HttpRequest,
    template: str,
    form: BaseForm | None = None,
    context: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """The page; 422 when what was handed in was not taken, with what was typed still in it."""
    status = 422 if form is not None and form.is_bound and form.errors else 200
    return render(request, template, {**(context or {}), "form": form}, status=status)


def home() -> str:
    try:
        return reverse("readiness:board")
    except NoReverseMatch:
        return "/"


def safe_next(request: HttpRequest, otherwise: str = "") -> str:
    """Where to go after; an address of another site is never followed."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if safe else otherwise or home()


def vehicle_page(code: str) -> str:
    """The vehicle's own page belongs to the app above; without it the list stands in."""
    try:
        return reverse("readiness:vehicle", args=[code])
    except NoReverseMatch:
        return reverse("fleet:vehicles")
