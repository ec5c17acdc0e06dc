"""Everything about one vehicle on one page, in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone

from fleet.models import Fact, Meter, MeterReading, Vehicle
from maintenance.enums import OPEN_STATES, CardState, DefectState, Effect
from maintenance.held import held_by
from maintenance.models import Defect, Deferral, Incident, Inspection, JobCard, Tag
from maintenance.queries.which_part import worked_on
from maintenance.queries.which_part_side import Replay, replay_of
from readiness.engine.reasons import day_words
from readiness.models import Assessment, Event
from readiness.queries.condition import Condition, condition_of
from readiness.queries.reliability import FailureHistory, failure_history
from readiness.services.working_out import WORDS

MARKS = {Effect.LOST: "stops", Effect.REDUCED: "limits", Effect.WATCH: "watch"}
MARK_WORDS = {
    "stops": "Stops running",
    "limits": "Limits running",
    "watch": "Watch",
    "none": "No bearing on running",
    "unknown": "Not assessed",
}
KINDS = {"own": "", "waiting": "waiting for ", "behind": "behind "}
SHORT_LIMITS = {
    "max speed": "km/h",
    "minutes per outing": "min",
    "minutes per day": "min a day",
    "km per outing": "km",
    "km per day": "km a day",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectLine:
    pk: int
    serial: str
    title: str
    mark: str
    mark_words: str
    card: JobCard | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PutOff:
    title: str
    plate: str
    unit: str
    limits: str
    until: str
    signers: str
    ended: bool
    pk: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    when: str
    name: str
    note: str
    left: str
    late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    vehicle: Vehicle
    meters: tuple[tuple[str, str, str], ...]
    standing: str
    word: str
    said: str
    percent: int | None
    entries: tuple[dict[str, Any], ...]
    groups: tuple[dict[str, Any], ...]
    tag: Tag | None
    held: Incident | None
    condition: tuple[Condition, ...]
    defects: tuple[DefectLine, ...]
    put_off: tuple[PutOff, ...]
    facts: tuple[Fact, ...]
    coming: tuple[Coming, ...]
    cards: tuple[JobCard, ...]
    after: tuple[JobCard, ...]
    open_card: JobCard | None
    history: FailureHistory
    which: tuple[Replay, ...]


def page(vehicle: Vehicle, event: Event | None, assessment: Assessment | None) -> Page:
    """Collect the page. `assessment` is the event's newest, None when nothing has been worked out."""
    today = timezone.localdate()
    result = assessment.result if assessment else {"entries": [], "vehicles": []}
    row = next((v for v in result["vehicles"] if v["vehicle"] == vehicle.code), None)
    entries = tuple(with_words(e) for e in result["entries"] if e["vehicle"] == vehicle.code)
    cards = list(
        JobCard.objects.filter(vehicle=vehicle, state__in=OPEN_STATES)
        .select_related("taken_by", "suits", "subsystem", "access")
        .order_by("timing", "serial")
    )
    defects = list(
        Defect.objects.filter(vehicle=vehicle, state__in=[DefectState.REPORTED, DefectState.ASSESSED])
        .select_related("subsystem")
        .prefetch_related(
            "effects",
            "cards__taken_by",
            Prefetch(
                "deferrals",
                Deferral.objects.filter(withdrawn_at=None).prefetch_related(
                    "limits__driver", "signatures__person"
                ),
            ),
        )
    )
    standing = row["standing"] if row else ("down" if vehicle.status != "in service" else "")
    worst = next((e for e in entries if row and e["id"] == row["entry"]), None)
    needed = set(worst["needs"]) if worst else set()
    holding = [h["subject"] for h in worst["holds"]] if worst else []
    open_cards = {c.code or c.serial: c for c in cards}
    chosen = next((open_cards[s] for s in [*holding, *sorted(needed)] if s in open_cards), None)
    return Page(
        vehicle=vehicle,
        meters=_meters(vehicle),
        standing=standing,
        word=WORDS.get(standing, ""),
        said=_said(vehicle, event, worst, standing),
        percent=row["percent"] if row else None,
        entries=entries,
        groups=grouped(entries, assessment.acts if assessment else {}),
        tag=Tag.objects.filter(vehicle=vehicle, lifted_at=None).select_related("card", "placed_by").first(),
        held=held_by(vehicle.pk),
        condition=condition_of(vehicle, defects),
        defects=tuple(_defect_line(d) for d in defects),
        put_off=_put_off(defects),
        facts=tuple(
            Fact.objects.filter(vehicle=vehicle, corrected_by=None).select_related(
                "corrects", "recorded_by", "subsystem"
            )
        ),
        coming=_coming(vehicle, today),
        cards=tuple(c for c in cards if c.timing == "pre" and c.state != CardState.CARRIED_FORWARD),
        after=tuple(c for c in cards if c.timing == "post" or c.state == CardState.CARRIED_FORWARD),
        open_card=chosen,
        history=failure_history(vehicle, entries),
        which=tuple(replay_of(row) for row in worked_on(vehicle)),
    )


def with_words(entry: dict[str, Any]) -> dict[str, Any]:
    """A copy of a stored entry with its day, time and holds in words, for templates."""
    starts = dt.datetime.fromisoformat(entry["starts"])
    holds = [
        h | {"words": f"{KINDS[h['kind']]}{h['label']}, {round(h['share'] * 100)} in 100 of the time"}
        for h in entry["holds"]
    ]
    return entry | {"day_words": day_words(starts.date()), "starts_words": f"{starts:%H:%M}", "holds": holds}


def grouped(entries: Iterable[dict[str, Any]], acts: dict[str, Any]) -> tuple[dict[str, Any], ...]:
    """Entries that stand alike for the same reasons told once, with their slots; what is said of people stays by slot."""
    groups: dict[str, dict[str, Any]] = {}
    for e in entries:
        told = [r for r in e["reasons"] if r["weight"] != "note"]
        key = repr((e["standing"], e["percent"], [(r["code"], r["words"]) for r in told]))
        group = groups.setdefault(
            key, {"first": e, "reasons": told, "slots": [], "said": {}, "acts": acts.get(e["id"], [])}
        )
        where = f"{e['slot']} {e['slot_name']}, {e['day_words']} {e['starts_words']}"
        group["slots"].append(where + (f", standby for {e['covers']}" if e["covers"] else ""))
        for f in e["flag_details"]:
            words = f["words"] + (f". {f['act'][:1].upper()}{f['act'][1:]}" if f["act"] else "")
            group["said"].setdefault((f["flag"], words), []).append(f"{e['slot']} {e['day_words'][:3]}")
    for group in groups.values():
        group["said"] = [
            {"flag": flag, "words": words, "slots": ", ".join(slots)}
            for (flag, words), slots in group["said"].items()
        ]
    return tuple(groups.values())


def _meters(vehicle: Vehicle) -> tuple[tuple[str, str, str], ...]:
    rows = Meter.objects.filter(vehicle=vehicle).prefetch_related(
        Prefetch("readings", MeterReading.objects.order_by("-read_at", "-pk"))
    )
    found = []
    for meter in rows:
        last = next(iter(meter.readings.all()), None)
        if last is not None:
            found.append(
                (
                    meter.get_kind_display(),
                    f"{last.shown.quantize(Decimal('0.1'))}",
                    day_words(timezone.localdate(last.read_at)),
                )
            )
    return tuple(found)


def _said(vehicle: Vehicle, event: Event | None, worst: dict[str, Any] | None, standing: str) -> str:
    """One plain paragraph: chance, dates, cause, consequence."""
    if worst is None:
        if standing == "down":
            return vehicle.status_reason or "Withdrawn from use for now."
        return f"In no slot of {event.name}." if event else "No event is coming."
    words = []
    if worst["percent"] is not None:
        words.append(f"{worst['percent']} in 100 by the freeze.")
    if worst["even"] and worst["eight_in_ten"]:
        one, other = (dt.datetime.fromisoformat(worst[k]).date() for k in ("even", "eight_in_ten"))
        words.append(f"Even chance by {day_words(one)}, 8 in 10 by {day_words(other)}.")
    held = [
        r["words"]
        for w in ("down", "barred", "open", "unjudged", "limit")
        for r in worst["reasons"]
        if r["weight"] == w
    ]
    if held:
        words.append(f"{held[0][:1].upper()}{held[0][1:]}.")
    acts = [r["act"] for r in worst["reasons"] if r["act"]]
    if acts:
        words.append(f"To do: {acts[0]}.")
    return " ".join(words) or "Every gate is met."


def mark_of(defect: Defect) -> str:
    if defect.state == DefectState.REPORTED:
        return "unknown"
    effects = {e.effect for e in defect.effects.all()}
    return next((MARKS[e] for e in (Effect.LOST, Effect.REDUCED, Effect.WATCH) if e in effects), "none")


def _defect_line(defect: Defect) -> DefectLine:
    mark = mark_of(defect)
    card = next((c for c in defect.cards.all() if c.is_open), None)
    words = [f"rated {defect.rating}"] if defect.rating else []
    if card is None:
        words.append("no card stands")
    else:
        words.append(
            f"job {card.serial}, {card.get_state_display().lower()}"
            + (f" for {card.held_for}" if card.state == CardState.HELD else "")
        )
        words.append(card.taken_by.name if card.taken_by else "no one has it")
    return DefectLine(
        pk=defect.pk,
        serial=defect.serial,
        title=defect.title,
        mark=mark,
        mark_words=MARK_WORDS[mark],
        card=card,
        said=", ".join(words),
    )


def _put_off(defects: Iterable[Defect]) -> tuple[PutOff, ...]:
    found = []
    today = timezone.localdate()
    for defect in defects:
        for row in sorted(defect.deferrals.all(), key=lambda d: d.signed_on)[-1:]:
            first = next((x for x in row.limits.all() if x.value is not None), None)
            others = [x.words for x in row.limits.all()]
            plate = (
                f"{first.value.normalize():f}"
                if first and first.value is not None
                else (others[0] if others else "")
            )
            found.append(
                PutOff(
                    pk=defect.pk,
                    title=defect.title,
                    plate=plate if len(plate) <= 24 else "Limit",
                    unit=SHORT_LIMITS.get(first.kind, "") if first else "",
                    limits="; ".join(others) or "No limit",
                    until=f"{day_words(row.ends_on)} {row.ends_on.year}",
                    signers=" and ".join(s.person.name for s in row.signatures.all()),
                    ended=row.ends_on < today,
                )
            )
    return tuple(found)


def _coming(vehicle: Vehicle, today: dt.date) -> tuple[Coming, ...]:
    found = []
    for row in Inspection.objects.filter(vehicle=vehicle):
        if row.voided_at is not None:
            found.append(
                (
                    today,
                    Coming(
                        when="Void",
                        name=row.name,
                        note=row.voided_why or "to be repeated",
                        left="",
                        late=True,
                    ),
                )
            )
        elif row.due_on is not None:
            left = (row.due_on - today).days
            note = (
                f"or at {row.due_at_meter.normalize():f} {row.interval_meter}"
                if row.due_at_meter is not None
                else ""
            )
            found.append(
                (
                    row.due_on,
                    Coming(
                        when=day_words(row.due_on),
                        name=row.name,
                        note=note,
                        left=f"{left} days" if left >= 0 else f"{-left} days over",
                        late=left < 0,
                    ),
                )
            )
        else:
            note = (
                f"at {row.due_at_meter.normalize():f} {row.interval_meter}"
                if row.due_at_meter is not None
                else "no result on file"
            )
            found.append((dt.date.max, Coming(when="", name=row.name, note=note, left="", late=False)))
    return tuple(c for _, c in sorted(found, key=lambda p: p[0]))
