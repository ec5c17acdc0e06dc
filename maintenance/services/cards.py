"""Every act on a job under one roof: opened and planned, at the bench, handed in, ended otherwise."""

from __future__ import annotations

from maintenance.services.bench import (
    card_photo_add,
    card_steps_set,
    cautions_read,
    hours_add,
    left_safe,
    original_kept,
    refit_done,
    step_done,
    step_undo,
    strip_add,
    strip_back,
)
from maintenance.services.closing import (
    card_close,
    put_back_as_found,
    return_to_service,
    second_sign,
    test_record,
)
from maintenance.services.ending import card_drop, card_not_needed, card_reopen, no_fault_found
from maintenance.services.opening import (
    card_book_in,
    card_hand_back,
    card_hold,
    card_open,
    card_plan,
    card_release,
    card_second,
    card_take,
    consent_answer,
    owner_gone,
)
from maintenance.waits import Wait, cautions_needed, waits_for

__all__ = [
    "Wait",
    "card_book_in",
    "card_close",
    "card_drop",
    "card_hand_back",
    "card_hold",
    "card_not_needed",
    "card_open",
    "card_photo_add",
    "card_plan",
    "card_release",
    "card_reopen",
    "card_second",
    "card_steps_set",
    "card_take",
    "cautions_needed",
    "cautions_read",
    "consent_answer",
    "hours_add",
    "left_safe",
    "no_fault_found",
    "original_kept",
    "owner_gone",
    "put_back_as_found",
    "refit_done",
    "return_to_service",
    "second_sign",
    "step_done",
    "step_undo",
    "strip_add",
    "strip_back",
    "test_record",
    "waits_for",
]
