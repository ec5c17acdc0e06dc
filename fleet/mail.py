"""Letters by mail, each with a Message-ID that stays the same however often it is tried."""

from __future__ import annotations

import hashlib
import re
from urllib.parse import urlparse

from django.conf import settings
from django.core.mail import EmailMultiAlternatives

LONGEST_ID = 120


def can_send() -> bool:
    """Without a mail server letters wait where they can be read, in the record book."""
    return bool(settings.EMAIL_HOST)


def message_id(*names: str) -> str:
    """The same names always give the same Message-ID (RFC 5322, 3.6.4): a mail server may know a second try by it."""
    host = urlparse(settings.SITE_ADDRESS).hostname or "localhost"
    plain = ".".join(re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-") for name in names)
    digest = hashlib.sha256("\n".join(names).encode()).hexdigest()[:12]
    return f"<{plain[: LONGEST_ID - len(host) - 20]}.{digest}@{host[:60]}>"


def one_line(text: str) -> str:
    """A header is one line, whatever a name or a title brings along."""
    return " ".join(text.split())


def letter_send(*, to: str, subject: str, text: str, html: str, message_id: str) -> None:
    """Hand one letter to the mail server.

    Raises:
        OSError: no connection, or the server refused (smtplib's errors are all of this kind).
    """
    letter = EmailMultiAlternatives(
        subject=one_line(subject)[:180],
        body=text,
        to=[to],
        headers={"Message-ID": message_id, "Auto-Submitted": "auto-generated"},
    )
    if html:
        letter.attach_alternative(html, "text/html")
    letter.send()
