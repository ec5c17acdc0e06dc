"""Mail goes over a real wire to a real server."""

from typing import Any

import pytest
from django.core.mail import EmailMultiAlternatives

from tests.plugins.services import MailSink

pytestmark = pytest.mark.services


def test_a_letter_arrives_whole(mail_sink: MailSink, settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", mail_sink.port
    settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
    settings.EMAIL_USE_TLS = False
    letter = EmailMultiAlternatives("Brake test due", "Number 7 — on Thursday.", to=["lead@museum.invalid"])
    letter.attach_alternative("<p>Number 7 — on Thursday.</p>", "text/html")

    assert letter.send() == 1

    (received,) = mail_sink.messages
    assert received["Subject"] == "Brake test due"
    assert received["X-Envelope-To"] == "lead@museum.invalid"
    body = received.get_body(("plain",))
    assert body is not None
    assert body.get_content().strip() == "Number 7 — on Thursday."
