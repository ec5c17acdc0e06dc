"""What each role is told, one function a role. Every line says what to do, where, and links to the one page for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from fleet.models import Person
from maintenance.enums import CardState, DefectState, HeldFor, NeedState, UseCheckKind
from maintenance.models import JobCard, ToCopy
from readiness.engine.gates import ORDER
from readiness.engine.reasons import day_words
from readiness.models import Crew
from readiness.queries.programme import cover_of, main_reason
from readiness.queries.reminders import Told, wall_clock
from readiness.services.digests import MOST_LINES, Line, seven

WEEK = 7
SLIPS_TOLD = 3


def path_to(name: str, *args: object) -> str:
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def more_line(path: str) -> Line:
    return Line(words="And {} more, on the page.", path=path)


def coordinator(t: Told, person: Person, day: dt.date) -> list[Line]:
    lines = _orders(t, day) + _late_parts(t) + _barred(t) + _people_wanted(t) + _asked_outside(t) + _visits(t)
    if lines:
        return list(seven(lines, more_line(path_to("readiness:board"))))
    return [Line(words="Nothing to do: nothing is late, nobody is wanted.", path=path_to("readiness:board"))]


def _orders(t: Told, day: dt.date) -> list[Line]:
    found = []
    for line in t.parts:
        part, dates = line.part, line.dates
        if part.state != NeedState.NOT_ORDERED or dates.code not in {"soon", "late"} or part.card is None:
            continue
        if dates.order is None:
            words = f"Ask for a lead time: {part.name} for {part.card.vehicle}"
        elif dates.order < day:
            words = f"Order at once, {dates.words.lower()}: {part.name} for {part.card.vehicle}"
        else:
            words = f"Order by {day_words(dates.order)} or lose it: {part.name} for {part.card.vehicle}"
        need = f", needed {day_words(dates.need)}" if dates.need else ""
        found.append(Line(words=f"{words}{need}.", path=path_to("maintenance:stores")))
    return found


def _late_parts(t: Told) -> list[Line]:
    if t.event is None:
        return []
    freeze = timezone.localdate(t.event.freeze_at)
    return [
        Line(
            words=f"Decide: {p.part.name} for {p.part.card.vehicle}, promised for {day_words(p.part.promised_on)}, will come after the freeze.",
            path=path_to("readiness:vehicle", p.part.card.vehicle.code),
        )
        for p in t.parts
        if p.part.promised_on and p.part.promised_on > freeze and p.part.card and p.dates.code == "late"
    ]


def _barred(t: Told) -> list[Line]:
    found: dict[tuple[str, str], Line] = {}
    for e in t.entries():
        if e["standing"] == "barred":
            found.setdefault(
                (e["vehicle"], e["slot"]),
                Line(
                    words=f"Decide: {e['number']} {e['name']} is barred from {e['slot']} {e['slot_name']}: {main_reason(e)}.",
                    path=path_to("readiness:vehicle", e["vehicle"]),
                ),
            )
    return list(found.values())


def _people_wanted(t: Told) -> list[Line]:
    short = [s for s in t.result.get("slots", []) if s["flags"]]
    if not short or t.event is None:
        return []
    first = short[0]
    words = first["flag_details"][0]["words"]
    many = "1 slot is" if len(short) == 1 else f"{len(short)} slots are"
    return [
        Line(
            words=f"Find people: {many} short or double booked. First {first['slot']} {first['name']}: {words}.",
            path=path_to("readiness:event", t.event.code),
        )
    ]


def _asked_outside(t: Told) -> list[Line]:
    return [
        Line(
            words=f"Ask again: {x.hand.who}, {x.hand.about}, {_days(x.waited_days)} without an answer; {x.holds} waits.",
            path=path_to("maintenance:outside_hand", x.hand.pk),
        )
        for x in t.unanswered
    ]


def _papers(papers: Iterable[ToCopy]) -> list[Line]:
    """A photograph of readings nags until they are in the book."""
    return [
        Line(
            words=f"Copy: readings on paper of {p.vehicle}, photographed {day_words(timezone.localdate(p.at))}.",
            path=path_to("maintenance:paper", p.pk),
        )
        for p in papers
    ]


def _visits(t: Told) -> list[Line]:
    if t.event is None:
        return []
    return [
        Line(
            words=f"Book: {i.name}, {i.vehicle or 'the site'}, valid to {day_words(i.due_on)}.",
            path=path_to("readiness:vehicle", i.vehicle.code) if i.vehicle else path_to("readiness:board"),
        )
        for i in t.inspections
        if i.due_on is not None and i.due_on <= t.event.last_day
    ]


def mechanic(t: Told, person: Person, day: dt.date) -> list[Line]:
    """The evening before a day on which they are in; nothing on other evenings."""
    tomorrow = day + dt.timedelta(days=1)
    if tomorrow not in t.days_of(person, tomorrow, tomorrow):
        return []
    mine = t.cards_of(person)
    work = [c for c in mine if c.state != CardState.HELD]
    lines = [
        Line(
            words=f"{'Tomorrow: ' if n == 0 else ''}{c.vehicle} {c.title}{_where(c, tomorrow)}.",
            path=path_to("maintenance:card", c.pk),
        )
        for n, c in enumerate(work)
    ]
    lines += [
        Line(words=f"Waits, {c.vehicle}: {c.title}: {_held(c)}.", path=path_to("maintenance:card", c.pk))
        for c in mine
        if c.state == CardState.HELD
    ]
    if not work and lines:
        first = Line(
            words="Tomorrow nothing of yours can go on: ask the lead.", path=path_to("maintenance:my_jobs")
        )
        lines.insert(0, first)
    lines += _papers(p for p in t.papers if p.by_id == person.pk)
    return list(seven(lines, more_line(path_to("maintenance:my_jobs"))))


def _where(card: JobCard, day: dt.date) -> str:
    said = [card.place.name] if card.place else []
    said += [f"{tool.name} is with {tool.on_loan_to}" for tool in card.tools.all() if tool.is_away(day)]
    return f" ({'; '.join(said)})" if said else ""


def _held(card: JobCard) -> str:
    parts = [p for p in card.parts.all() if p.state in {NeedState.ON_ORDER, NeedState.OUT_FOR_REPAIR}]
    if card.held_for == HeldFor.PART and parts:
        return ", ".join(
            f"{p.name} due {day_words(p.promised_on)}" if p.promised_on else p.name for p in parts
        )
    return card.held_note or f"held for {card.get_held_for_display().lower()}"


def lead(t: Told, person: Person, day: dt.date) -> list[Line]:
    unseen = [d for d in t.defects if d.state == DefectState.REPORTED]
    lines = [
        Line(
            words=f"Assess: {d.title}, {d.vehicle}, waiting {_days((day - timezone.localdate(d.reported_at)).days)}.",
            path=path_to("readiness:vehicle", d.vehicle.code),
        )
        for d in unseen
    ]
    lines += [
        Line(
            words=f"Sign: {c.title}, {c.vehicle} ({c.get_state_display().lower()}).",
            path=path_to("maintenance:card", c.pk),
        )
        for c in t.cards
        if c.state in {CardState.TESTED, CardState.REFIT_DONE}
    ]
    if t.event is not None:
        lines += [
            Line(
                words=f"Renew or finish: {x.defect.title}, {x.defect.vehicle}, put off to {day_words(x.ends_on)}, before the event ends.",
                path=path_to("readiness:vehicle", x.defect.vehicle.code),
            )
            for x in t.deferrals
            if x.ends_on < t.event.last_day and (t.event.first_day - day).days <= WEEK * 6
        ]
    lines += _papers(t.papers)
    return list(seven(lines, more_line(path_to("maintenance:workshop"))))


def driver(t: Told, person: Person, day: dt.date) -> list[Line]:
    mine = [d for d in t.duties if d.person_id == person.pk and d.duty == "driver" and d.entry is not None]
    return _duty_lines(t, mine, warn=True)


def _duty_lines(t: Told, duties: Iterable[Crew], *, warn: bool) -> list[Line]:
    said = {(e["slot"], e["starts"], e["vehicle"]): e for e in t.entries()}
    warnings, plain = [], []
    for duty in duties:
        starts = wall_clock(duty.slot.starts_at)
        vehicle = duty.entry.vehicle if duty.entry else None
        what = f"You drive {vehicle}" if duty.duty == "driver" and vehicle else f"{duty.get_duty_display()}"
        if vehicle is not None and duty.duty != "driver":
            what += f" of {vehicle}"
        entry = said.get((duty.slot.code, starts.isoformat(), vehicle.code)) if vehicle else None
        words = f"{what}, {day_words(starts.date())} {starts:%H:%M}, {duty.slot.code} {duty.slot.name}"
        flags = [
            f["words"]
            for f in (entry["flag_details"] if entry else [])
            if f["person"] == (duty.person.code if duty.person else "")
        ]
        limits = f" Limits: {'; '.join(entry['limits'])}." if entry and entry["limits"] else ""
        path = (
            path_to("readiness:vehicle", vehicle.code)
            if vehicle
            else path_to("readiness:event", _event_code(t))
        )
        if flags and warn:
            warnings.append(
                Line(words=f"Look at this: {words}. {'; '.join(dict.fromkeys(flags))}.{limits}", path=path)
            )
        else:
            plain.append(Line(words=f"{words}.{limits}", path=path))
    return list(seven([*warnings, *plain], more_line(path_to("readiness:event", _event_code(t)))))


def _event_code(t: Told) -> str:
    return t.event.code if t.event else ""


def manager(t: Told, person: Person, day: dt.date) -> list[Line]:
    if t.event is None:
        return []
    slots = [s for s in t.result.get("slots", []) if s["role"] != "standby" and s["vehicles"]]
    at_risk = [s for s in slots if cover_of(s["cover"])[2] == "Open"]
    path = path_to("readiness:event", t.event.code)
    lines = []
    if at_risk:
        lines.append(Line(words=f"Programme at risk: {len(at_risk)} of {len(slots)} slots.", path=path))
        # What no work will mend comes first: it needs the manager's decision.
        at_risk.sort(key=lambda s: (_worst_of(t, s), str(s["starts"]), str(s["slot"])))
        lines += [Line(words=_risk_words(t, s), path=path) for s in at_risk]
    if (t.event.first_day - day).days <= WEEK:
        prints = Line(
            words=f"Print the event sheet and the checklists after the freeze, {_clock(t)}.", path=path
        )
        lines.insert(0, prints)
    return list(seven(lines, more_line(path)))


def _worst_of(t: Told, slot: dict[str, object]) -> int:
    mine = [e for e in t.entries() if e["slot"] == slot["slot"] and e["starts"] == slot["starts"]]
    return min((ORDER.index(e["standing"]) for e in mine if e["standing"] in ORDER), default=len(ORDER))


def _risk_words(t: Told, slot: dict[str, object]) -> str:
    starts = dt.datetime.fromisoformat(str(slot["starts"]))
    mine = [e for e in t.entries() if e["slot"] == slot["slot"] and e["starts"] == slot["starts"]]
    bad = [e for e in mine if e["standing"] in {"down", "barred", "unlikely", "unjudged", "open", "doubtful"}]
    names = "; ".join(f"{e['number']} {e['name']} {e['word'].lower()}" for e in bad)
    return f"{slot['slot']} {slot['name']}, {starts:%a %H:%M}: {names or 'no vehicle is sure'}."


def _clock(t: Told) -> str:
    if t.event is None:
        return ""
    at = wall_clock(t.event.freeze_at)
    return f"{day_words(at.date())} {at:%H:%M}"


def curator(t: Told, person: Person, day: dt.date) -> list[Line]:
    asked = [c for c in t.cards if c.needs_consent and not c.consent_answer]
    lines = [
        Line(words=f"Answer: consent for {c.title}, {c.vehicle}.", path=path_to("maintenance:card", c.pk))
        for c in asked
    ]
    due = [k for k in t.checks if k.kind == UseCheckKind.CONDITION_BEFORE and k.for_day >= day]
    if due:
        names = ", ".join(str(k.vehicle) for k in due[:SLIPS_TOLD])
        more = f" and {len(due) - SLIPS_TOLD} more" if len(due) > SLIPS_TOLD else ""
        lines.append(
            Line(words=f"Condition checks before use wanted: {names}{more}.", path=path_to("readiness:board"))
        )
    return list(seven(lines, more_line(path_to("readiness:board"))))


def everybody(t: Told, person: Person, day: dt.date) -> list[Line]:
    """The evening before: where and when, and what not to run. The evening after: slips that are missing."""
    if t.event is None:
        return []
    if day > t.event.last_day:
        return _slips(t, person)
    mine = t.duties_by_person().get(person.pk, [])
    if not mine:
        return []
    lines = _duty_lines(t, mine, warn=False)
    down = sorted(
        {f"{e['number']} {e['name']}" for e in t.entries() if e["standing"] in {"down", "barred", "unlikely"}}
    )
    if down:
        words = f"Not to be run unless the board says so by then: {', '.join(down)}."
        lines = [*lines[: MOST_LINES - 1], Line(words=words, path=path_to("readiness:board"))]
    return lines


def _slips(t: Told, person: Person) -> list[Line]:
    if t.event is None:
        return []
    drove = {
        d.entry.vehicle_id
        for d in t.duties
        if d.person_id == person.pk and d.duty == "driver" and d.entry is not None
    }
    missing = [
        k
        for k in t.checks
        if k.kind == UseCheckKind.AFTER_USE
        and k.vehicle_id in drove
        and t.event.first_day <= k.for_day <= t.event.last_day
    ]
    return [
        Line(
            words=f"After-use slip missing: {k.vehicle}, {day_words(k.for_day)}. It runs nowhere until it is handed in.",
            path=path_to("readiness:vehicle", k.vehicle.code),
        )
        for k in missing[:MOST_LINES]
    ]


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"
