"""Whose address a request comes from, when a proxy stands in front."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse


class CallerAddressMiddleware:
    """Put the caller's own address into REMOTE_ADDR, so that ten wrong passwords are counted against the right door.

    Each trusted proxy adds one address at the right of X-Forwarded-For; what stands further left was written by the
    caller and is not believed. With no proxy the header is not read at all.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.proxies: int = settings.PROXIES

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if self.proxies:
            chain = [
                part.strip() for part in request.headers.get("X-Forwarded-For", "").split(",") if part.strip()
            ]
            if len(chain) >= self.proxies:
                request.META["REMOTE_ADDR"] = chain[-self.proxies]
        return self.get_response(request)
