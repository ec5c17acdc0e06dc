"""The job card as a phone shows it: every row prepared, so that no template asks the database."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone

from fleet.hazards import ABOVE_ALL, Hazard
from fleet.http import museum
from fleet.models import Act, Fact, Person
from fleet.rules import may
from maintenance import rules
from maintenance.enums import CardState, HeldFor, SignatureKind, TestKind
from maintenance.forms import phone as forms
from maintenance.models import (
    CautionRead,
    Defect,
    FabricPart,
    FactUse,
    Incident,
    JobCard,
    JobPhoto,
    JobStep,
    Measure,
    Reading,
    SpecialTool,
    StripItem,
    Tag,
    WhichSheet,
)
from maintenance.phone import loading
from maintenance.phone.entries import Entry, build
from maintenance.phone.freeze import next_freeze
from maintenance.phone.verdicts import NOT_READ, Answer, Strip, answer_of, limit_words, page_data, strip_of
from maintenance.queries.which_part import sheets_of_card
from maintenance.waits import (
    Wait,
    card_hazards,
    counted_from,
    doers,
    is_handed_over,
    second_signature,
    waits_for,
)

Bound = Mapping[str, Entry]


@dataclass(frozen=True, slots=True, kw_only=True)
class Can:
    """What this person may do on this job now."""

    work: bool
    take: bool
    give_back: bool
    close: bool
    test: bool
    read: bool
    which: bool
    photo: bool
    second: bool
    give_back_words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    step: JobStep
    entry: Entry
    is_now: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRow:
    measure: Measure
    wanted: bool
    limit: str
    data: str
    strip: Strip | None
    answer: Answer
    last: Reading | None
    entry: Entry

    @property
    def answer_id(self) -> str:
        return f"v-{self.measure.pk}"


@dataclass(frozen=True, slots=True, kw_only=True)
class OffRow:
    item: StripItem
    found: tuple[JobPhoto, ...]
    left: tuple[JobPhoto, ...]
    photo: Entry
    back: Entry
    stays: Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolRow:
    tool: SpecialTool
    away: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    card: JobCard
    person: Person
    can: Can
    entries: Mapping[str, Entry]
    hazards: tuple[Hazard, ...]
    above_all: str
    read_today: CautionRead | None
    facts: tuple[Fact, ...]
    outdated: tuple[FactUse, ...]
    sheets: tuple[WhichSheet, ...]
    tags: tuple[Tag, ...]
    hand_ins: tuple[tuple[str, str], ...]
    hands_off: tuple[FabricPart, ...]
    held_as_found: Incident | None
    alike: tuple[Defect, ...]
    earlier: tuple[JobCard, ...]
    again: int
    steps: tuple[StepRow, ...]
    steps_done: int
    readings: tuple[MeasureRow, ...]
    more_readings: tuple[MeasureRow, ...]
    off: tuple[OffRow, ...]
    off_count: int
    back_count: int
    backwards: bool
    photos: tuple[JobPhoto, ...]
    tools: tuple[ToolRow, ...]
    sharing: tuple[JobCard, ...]
    hours_saved: Decimal
    tests_asked: tuple[str, ...]
    waits: tuple[Wait, ...]
    handed_in: bool
    handed_over: bool
    doer_sign: Any
    second: Any
    back_in_service: Any
    total_hours: Decimal
    freeze: dt.datetime | None

    @property
    def bench_waits(self) -> list[Wait]:
        return [one for one in self.waits if not is_handed_over([one])]

    @property
    def later_waits(self) -> list[Wait]:
        return [one for one in self.waits if is_handed_over([one])]

    @property
    def past_count(self) -> int:
        return sum(1 for row in (*self.readings, *self.more_readings) if row.answer.kind == "past")

    @property
    def read_count(self) -> int:
        return sum(1 for row in self.readings if row.last is not None)

    @property
    def cautions_wanted(self) -> bool:
        return bool(self.hazards) and self.read_today is None


def card_page(pk: int, person: Person, bound: Bound | None = None) -> Page:
    """Everything on the page of one job for one person. `bound`: forms that came back, by their id on the page.

    Raises:
        JobCard.DoesNotExist: there is no such job.
    """
    now = timezone.now()
    day = timezone.localdate(now)
    loaded = loading.load(pk, now, day)
    card = loaded.card
    kept = bound or {}
    signed = list(card.signatures.all())
    waits = waits_for(card, person=_hander(card))
    readings, more = _measures(card, loaded.measures, kept)
    off, off_count, back_count, backwards = _off(card, kept)
    steps = list(card.steps.all())
    return Page(
        card=card, person=person, can=_can(card, person, held=bool(loaded.held_as_found)), entries=_entries(card, loaded.signers, kept, day),
        hazards=tuple(card_hazards(card)), above_all=ABOVE_ALL, read_today=_read_today(card, person, day),
        facts=loaded.facts, outdated=loaded.outdated, sheets=tuple(sheets_of_card(card.pk)), earlier=loaded.earlier, again=len(loaded.earlier), tags=loaded.tags,
        hand_ins=tuple(_second_words(one) for one in loaded.hand_ins), hands_off=loaded.hands_off, alike=loaded.alike,
        held_as_found=next(iter(loaded.held_as_found), None),
        steps=_steps(steps, kept), steps_done=sum(1 for step in steps if step.done_at is not None),
        readings=readings, more_readings=more, off=off, off_count=off_count, back_count=back_count, backwards=backwards,
        photos=tuple(one for one in card.card_photos.all() if one.item_id is None),
        tools=tuple(ToolRow(tool=one, away=one.is_away(day)) for one in card.tools.all()),
        sharing=loaded.sharing, hours_saved=card.access.person_hours * len(loaded.sharing) if card.access is not None else Decimal(0),
        tests_asked=_tests_asked(card), waits=tuple(waits), handed_in=card.outcome in {"done", "limit"},
        handed_over=is_handed_over(waits), doer_sign=_last(signed, SignatureKind.DOER), second=second_signature(card),
        back_in_service=_last(signed, SignatureKind.RETURN), total_hours=sum((log.hours for log in card.hours.all()), Decimal(0)),
        freeze=next_freeze(day),
    )  # fmt: skip


def _hander(card: JobCard) -> Person | None:
    signed = _last(list(card.signatures.all()), SignatureKind.DOER)
    return signed.person if signed is not None else card.taken_by


def _last(signed: list[Any], kind: str) -> Any:
    return next((one for one in reversed(signed) if one.kind == kind), None)


def _can(card: JobCard, person: Person, *, held: bool) -> Can:
    """On a vehicle that is held as found nothing is done but photographed."""
    open_now, mine = card.is_open and not held, card.taken_by_id == person.pk
    return Can(
        work=open_now and rules.may_work_card(person, card),
        take=open_now and card.taken_by_id is None and rules.may_take_card(person, card)
        and not (card.needs_consent and card.consent_answer != "yes"),
        give_back=open_now and card.taken_by_id is not None and (mine or person.has_role("lead")),
        close=open_now and rules.may_close_card(person, card),
        test=open_now and not person.is_trainee and may(person, "card.test"),
        read=open_now and may(person, "reading.add"),
        which=open_now and may(person, "which.fill"),
        photo=card.is_open and rules.may_work_card(person, card),
        second=open_now and card.persons > 1 and not mine and may(person, "card.take"),
        give_back_words="Hand it back" if mine or card.taken_by is None else f"Take it out of {card.taken_by.first_name}'s name",
    )  # fmt: skip


def _read_today(card: JobCard, person: Person, day: dt.date) -> CautionRead | None:
    return next(
        (one for one in card.cautions_read.all() if one.person_id == person.pk and one.day == day), None
    )


def _entry(
    kept: Bound, kind: type[forms.PhoneForm], act: str, target: int | None = None, **words: Any
) -> Entry:
    fresh = build(kind, act, target, **words)
    return kept.get(fresh.id, fresh)


def _entries(
    card: JobCard, known: tuple[tuple[int, str], ...], kept: Bound, day: dt.date
) -> dict[str, Entry]:
    """The forms that stand once on the page, by act."""
    worked = doers(card)
    signers = [pair for pair in known if pair[0] not in worked]
    listed = [
        _entry(kept, forms.HandBackForm, "hand_back"),
        _entry(kept, forms.HoldForm, "hold"),
        _entry(kept, forms.HoursForm, "hours", initial={"day": day}),
        _entry(kept, forms.PhotoForm, "photo"),
        _entry(kept, forms.OffForm, "off"),
        _entry(kept, forms.OriginalForm, "original"),
        _entry(kept, forms.SafeForm, "safe"),
        _entry(kept, forms.TestForm, "test", initial={"kind": _next_test(card)}),
        _entry(kept, forms.CloseForm, "close"),
        _entry(kept, forms.SignForm, "sign", signers=signers),
        _entry(kept, forms.ReturnForm, "return"),
        _entry(kept, forms.SettleForm, "settle"),
        _entry(kept, forms.FoundForm, "found"),
        _entry(kept, forms.PartForm, "part"),
    ]
    plain = ("take", "second", "not_second", "cautions", "release", "refit")
    return {one.act: one for one in listed} | {act: kept.get(f"f-{act}", Entry(act=act)) for act in plain}


def _second_words(line: Act) -> tuple[str, str]:
    """(who handed it in as well and how, in which words)."""
    how = dict(forms.OUTCOMES).get(line.detail.get("outcome", ""), "")
    return f"{line.by_name} handed it in as well. {how}.", str(line.detail.get("words", ""))


def _next_test(card: JobCard) -> str:
    if card.refit_at is None and card.opened_at is not None:
        return TestKind.BENCH.value
    return TestKind.FUNCTIONAL.value if card.needs_functional_test else TestKind.ROAD.value


def _tests_asked(card: JobCard) -> tuple[str, ...]:
    asked = [TestKind.FUNCTIONAL.label] if card.needs_functional_test else []
    return tuple(str(one) for one in [*asked, *([TestKind.ROAD.label] if card.needs_road_test else [])])


def _steps(steps: list[JobStep], kept: Bound) -> tuple[StepRow, ...]:
    first = next((step.pk for step in steps if step.done_at is None), None)
    return tuple(
        StepRow(
            step=step,
            entry=kept.get(f"f-step-{step.pk}", Entry(act="step", target=step.pk)),
            is_now=step.pk == first,
        )
        for step in steps
    )


def _measures(
    card: JobCard, measures: tuple[Measure, ...], kept: Bound
) -> tuple[tuple[MeasureRow, ...], tuple[MeasureRow, ...]]:
    live = list(card.readings.all())
    wanted = {one.pk for one in card.measures.all()} | {one.measure_id for one in live}
    history = loading.history_of(measures)
    row = museum()
    share = row.near_share if row is not None else loading.NOUGHT
    together = counted_from(card) is not None
    rows = [_measure(one, wanted, live, history.get(one.pk, []), share, kept, together) for one in measures]
    return tuple(one for one in rows if one.wanted), tuple(one for one in rows if not one.wanted)


def _measure(
    measure: Measure,
    wanted: set[int],
    live: list[Reading],
    earlier: list[Reading],
    share: Decimal,
    kept: Bound,
    together: bool,
) -> MeasureRow:
    last = next((one for one in reversed(live) if one.measure_id == measure.pk), None)
    single = last.values[0] if last is not None and len(last.values) == 1 else ""
    moment = "as left" if last is not None or together else "as found"
    shown = {f"value_{place}": value for place, value in enumerate(last.values)} if last is not None else {}
    return MeasureRow(
        measure=measure, wanted=measure.pk in wanted, limit=limit_words(measure), data=page_data(measure, earlier, share),
        strip=strip_of(measure, single), answer=answer_of(last.verdict, last.verdict_words) if last is not None else NOT_READ,
        last=last, entry=_entry(kept, forms.ReadingForm, "reading", measure.pk, row=measure, initial={"moment": moment, **shown}),
    )  # fmt: skip


def _off(card: JobCard, kept: Bound) -> tuple[tuple[OffRow, ...], int, int, bool]:
    """Taken off: in the order in which it came off, until the first is back; then last off, first on."""
    items = list(card.strip_items.all())
    back = sum(item.count for item in items if item.back_at is not None or item.not_back_reason)
    photos = list(card.card_photos.all())
    rows = tuple(_off_row(item, photos, kept) for item in items)
    backwards = back > 0 or card.refit_at is not None
    return rows[::-1] if backwards else rows, sum(item.count for item in items), back, backwards


def _off_row(item: StripItem, photos: list[JobPhoto], kept: Bound) -> OffRow:
    own = [one for one in photos if one.item_id == item.pk]
    left = tuple(one for one in own if one.moment == "as left")
    return OffRow(
        item=item, left=left, found=tuple(one for one in own if one.moment != "as left"),
        photo=kept.get(f"f-photo-{item.pk}", Entry(act="photo", target=item.pk)),
        back=kept.get(f"f-back-{item.pk}", Entry(act="back", target=item.pk)),
        stays=_entry(kept, forms.StaysOffForm, "stays_off", item.pk),
    )  # fmt: skip


def held_words(card: JobCard) -> str:
    """Why it does not go on, and until when."""
    if card.state != CardState.HELD:
        return ""
    label = HeldFor(card.held_for).label.lower() if card.held_for in HeldFor.values else "something"
    until = f", until {card.held_until.day} {card.held_until:%B}" if card.held_until else ""
    return f"Held for: {label}{until}. {card.held_note}".strip()
