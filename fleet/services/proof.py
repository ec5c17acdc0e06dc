"""A second person proves who they are on somebody else's phone: by their own password or PIN."""

from __future__ import annotations

import hashlib
import itertools

from django.contrib.auth.hashers import check_password, make_password
from django.core.cache import cache
from django.core.exceptions import ValidationError

from fleet.models import Person

TRIES = 5
WAIT_SECONDS = 15 * 60
PIN_LEAST = 6


def pin_hash(pin: str) -> str:
    """Hash a PIN after looking that it is worth having."""
    if not pin.isdigit() or not PIN_LEAST <= len(pin) <= 12:
        raise ValidationError({"pin": f"A PIN is {PIN_LEAST} to 12 digits."})
    steps = {(int(b) - int(a)) % 10 for a, b in itertools.pairwise(pin)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        raise ValidationError(
            {"pin": "That PIN is too easy to guess: not all alike, not counting up or down."}
        )
    return make_password(pin)


def proof_check(*, person: Person, proof: str, field: str = "proof") -> str:
    """How the person proved it: "password" or "PIN". Raises when neither fits; five tries, then a wait."""
    key = "proof-tries-" + hashlib.sha256(str(person.pk).encode()).hexdigest()[:16]
    if cache.get(key, 0) >= TRIES:
        raise ValidationError(
            {
                field: f"Too many wrong tries for {person.name}. Wait a quarter of an hour, or let them sign in themselves."
            }
        )
    fresh = Person.objects.get(pk=person.pk)  # as it stands now, not as a page read it earlier
    if fresh.is_active and proof:
        if fresh.pin and check_password(proof, fresh.pin):
            cache.delete(key)
            return "PIN"
        if not fresh.must_change_password and fresh.check_password(proof):
            cache.delete(key)
            return "password"
    cache.add(key, 0, WAIT_SECONDS)
    cache.incr(key)
    raise ValidationError(
        {field: f"That is not the password or PIN of {person.name}. Let them type it themselves."}
    )
