"""Reading jobs. Each function costs the same number of queries however many rows come back."""

from __future__ import annotations

import datetime as dt

from django.db.models import Case, IntegerField, Q, QuerySet, Value, When

from fleet.models import Person, Vehicle
from maintenance.enums import OPEN_STATES, CardState, SignatureKind
from maintenance.models import JobCard
from maintenance.queries.whole import card_whole

_ORDER = Case(
    When(state=CardState.IN_HAND, then=Value(0)),
    When(state__in=[CardState.REFIT_DONE, CardState.TESTED], then=Value(1)),
    When(state=CardState.BOOKED_IN, then=Value(2)),
    When(state=CardState.HELD, then=Value(4)),
    default=Value(3),
    output_field=IntegerField(),
)


def rows(cards: QuerySet[JobCard]) -> QuerySet[JobCard]:
    """For a list: vehicle, system, holder, parts and faults; three queries beside the rows."""
    return cards.select_related(
        "vehicle", "subsystem", "taken_by", "suits", "access", "place"
    ).prefetch_related("parts", "defects", "skills")


def open_cards(vehicle: Vehicle | None = None) -> QuerySet[JobCard]:
    """Open jobs in the order in which they are worth seeing; of one vehicle or of all."""
    cards = JobCard.objects.filter(state__in=OPEN_STATES)
    if vehicle is not None:
        cards = cards.filter(vehicle=vehicle)
    return rows(cards).order_by(_ORDER, "serial")


def my_cards(person: Person) -> QuerySet[JobCard]:
    """What this person has; then what is planned for them and nobody has."""
    mine = Q(taken_by=person) | Q(taken_by=None, suits=person)
    return rows(
        JobCard.objects.filter(mine, state__in=OPEN_STATES).exclude(state=CardState.CARRIED_FORWARD)
    ).order_by(
        Case(When(taken_by=person, then=Value(0)), default=Value(1), output_field=IntegerField()),
        _ORDER,
        "serial",
    )


def to_sign(person: Person, day: dt.date) -> QuerySet[JobCard]:
    """Jobs that wait for a second signature in an area that this person may pass, and that they did not work on."""
    areas = [
        one.area
        for one in person.competences.all()
        if one.kind == "inspect" and (one.valid_through is None or one.valid_through >= day)
    ]
    cards = JobCard.objects.filter(state__in=[CardState.REFIT_DONE, CardState.TESTED]).exclude(second_area="")
    if "any" not in areas:
        cards = cards.filter(second_area__in=areas)
    worked = (
        Q(hours__person=person)
        | Q(signatures__person=person, signatures__kind=SignatureKind.DOER)
        | Q(taken_by=person)
    )
    return rows(cards.exclude(pk__in=JobCard.objects.filter(worked).values("pk"))).order_by("serial")


def untouched(before: dt.datetime) -> QuerySet[JobCard]:
    """Opened, not put together, and nobody has touched it since."""
    cards = JobCard.objects.filter(
        state__in=OPEN_STATES, opened_at__isnull=False, refit_at=None, touched_at__lt=before
    )
    return rows(cards).order_by("touched_at")


def shares_opening(card: JobCard) -> QuerySet[JobCard]:
    """Other open jobs on the vehicle that need the same way in: worth doing while it is open."""
    if card.access_id is None:
        return JobCard.objects.none()
    cards = JobCard.objects.filter(vehicle=card.vehicle_id, access=card.access_id, state__in=OPEN_STATES)
    return rows(cards.exclude(pk=card.pk)).order_by("serial")


def card_detail(pk: int) -> JobCard:
    """One job with everything its page, its print and `waits_for` ask: three queries, however full it is.

    Beside its own lists: `defects` with `effects` and the `deferrals` in force with `limits`; `readings` with
    their `measure`; every person named anywhere.
    """
    card = JobCard.objects.select_related(
        "vehicle", "subsystem__parent", "taken_by", "suits", "access__place", "place", "inspection", "consent_by", "found_on",
    ).get(pk=pk)  # fmt: skip
    return card_whole(card)
