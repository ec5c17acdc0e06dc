"""A forgotten password, when letters can be sent: a link by e-mail that works once."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import send_mail
from django.db.models import Q
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.encoding import force_bytes, force_str
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode

from fleet.models import Museum, Person


def mail_is_set_up() -> bool:
    return bool(settings.EMAIL_HOST)


def reset_letters_send(typed: str) -> int:
    """Write to whoever goes by this address or sign-in name. Returns how many letters left.

    Called from the background, so that the page answers alike and as fast whether anybody was found or not.
    """
    text = typed.strip()
    found = Person.objects.filter(Q(email__iexact=text) | Q(username=text), is_active=True).exclude(email="")
    museum = Museum.objects.values_list("name", flat=True).first() or "the museum"
    sent = 0
    for person in found:
        words = {
            "person": person,
            "museum": museum,
            "link": reset_link(person),
            "days": settings.PASSWORD_RESET_TIMEOUT // 86_400,
        }
        send_mail(
            render_to_string("email/password_reset_subject.txt", words).strip(),
            render_to_string("email/password_reset.txt", words), None, [person.email],
        )  # fmt: skip
        sent += 1
    return sent


def reset_link(person: Person) -> str:
    uid = urlsafe_base64_encode(force_bytes(person.pk))
    path = reverse("fleet:reset", args=[uid, default_token_generator.make_token(person)])
    return f"{settings.SITE_ADDRESS}{path}"


def person_of_link(uid: str, token: str) -> Person | None:
    """Whose link it is; None when it was used, is too old, or was never given out."""
    try:
        pk = int(force_str(urlsafe_base64_decode(uid)))
    except (ValueError, OverflowError):
        return None
    person = Person.objects.filter(pk=pk, is_active=True).first() if 0 < pk < 2**63 else None
    return person if person is not None and default_token_generator.check_token(person, token) else None
