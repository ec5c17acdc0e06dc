"""One job in plain lines for the book of its vehicle."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.utils import timezone

from maintenance.models import JobCard, StripItem


def _at(value: dt.datetime | None) -> str:
    if value is None:
        return ""
    moment = timezone.localtime(value)
    return f"{moment.day} {moment:%B %Y, %H:%M}"


def job_lines(card: JobCard) -> Iterator[str]:
    """What, why, how it went, who signed. Reads only what was prefetched."""
    yield f"{card.get_kind_display()}. {card.get_state_display()}. Opened {_at(card.created_at)}" + (
        f", ended {_at(card.ended_at)}." if card.ended_at else "."
    )
    if card.why:
        yield f"Why: {card.why}"
    for defect in card.defects.all():
        yield f"Clears fault {defect.serial} {defect.title}"
    if card.second is not None:
        yield f"Second person: {card.second.name}"
    if card.consent_answer:
        yield f"The curator said {card.consent_answer}: {card.consent_words} ({card.consent_by}, {_at(card.consent_at)})"
    yield from _at_the_bench(card)
    yield from _at_the_end(card)


def _at_the_bench(card: JobCard) -> Iterator[str]:
    for step in card.steps.all():
        done = f"done {_at(step.done_at)}, {step.done_by}" if step.done_at else "not done"
        yield f"Step {step.order}: {step.text}{f' ({step.source})' if step.source else ''}: {done}"
    for item in card.strip_items.all():
        yield _off_and_on(item)
    for reading in card.readings.all():
        yield f"{reading.measure.name}, {reading.moment}: {', '.join(reading.values)} {reading.measure.unit}, {reading.verdict}"
    for part in card.parts.all():
        yield f"Part: {part.quantity} x {part.name}, {part.get_state_display().lower()}"
    for note in card.left_safe.all():
        yield f"Left safe {_at(note.at)}, {note.by}: {note.state_of_strip} Parts: {note.parts_where} Next: {note.next_step}"


def _at_the_end(card: JobCard) -> Iterator[str]:
    for test in card.tests.all():
        yield f"{test.get_kind_display()} {_at(test.at)}, {test.by}: {'passed' if test.passed else 'failed'}. {test.words}".strip()
    for log in card.hours.all():
        yield f"{log.person}, {log.day.day} {log.day:%B %Y}: {log.hours.normalize():f} h. {log.note}".strip()
    if card.original_label:
        yield f"Original part kept: label {card.original_label}, shelf {card.original_shelf}"
    if card.outcome_words:
        yield f"Ended: {card.get_outcome_display() or card.get_state_display()}. {card.outcome_words}"
    for signed in card.signatures.all():
        yield f"{signed.get_kind_display()}: {signed.person}, {_at(signed.at)}. {signed.words}".strip()


def _off_and_on(item: StripItem) -> str:
    said = [f"Off {item.number}: {item.count} x {item.what}, {_at(item.off_at)}, {item.off_by}"]
    said += [
        f"{name} {value}"
        for name, value in (
            ("tray", item.tray), ("marks", item.marks), ("to renew", item.renew), ("torque", item.torque),
        )
        if value
    ]  # fmt: skip
    if item.back_at is not None:
        said.append(f"back on {_at(item.back_at)}, {item.back_by}")
    elif item.not_back_reason:
        said.append(f"stays off: {item.not_back_reason}")
    else:
        said.append("not back on")
    return "; ".join(said)
