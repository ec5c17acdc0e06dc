"""The link behind a vehicle's printed code: signed, good for a fault slip and nothing else, ended by a new tag key."""

from __future__ import annotations

from django.conf import settings
from django.core import signing
from django.urls import reverse

from fleet.models import Vehicle

SALT = "fault slip"
RECEIPT_SALT = "fault slip receipt"
RECEIPT_SECONDS = 24 * 60 * 60
LONGEST = 120


def token_of(vehicle: Vehicle) -> str:
    return signing.Signer(salt=SALT, sep=".").sign(vehicle.tag_key)


def vehicle_of(token: str) -> Vehicle | None:
    """The vehicle behind a token; None for one that was tampered with, renewed away, or never was."""
    if len(token) > LONGEST or not token.isascii():
        return None
    try:
        key = signing.Signer(salt=SALT, sep=".").unsign(token)
    except signing.BadSignature:
        return None
    return Vehicle.objects.filter(tag_key=key).first()


def link_of(vehicle: Vehicle) -> str:
    """The whole address, as it is printed."""
    return f"{settings.SITE_ADDRESS}{reverse('maintenance:slip', args=[token_of(vehicle)])}"


def receipt_token(defect_pk: int) -> str:
    """For whoever handed a slip in, to see what they handed in, for a day."""
    return signing.TimestampSigner(salt=RECEIPT_SALT, sep=".").sign(str(defect_pk))


def receipt_of(token: str) -> int | None:
    if len(token) > LONGEST or not token.isascii():
        return None
    try:
        return int(signing.TimestampSigner(salt=RECEIPT_SALT, sep=".").unsign(token, max_age=RECEIPT_SECONDS))
    except (signing.BadSignature, ValueError):
        return None
