"""Entries of several phones on several jobs, sent in any interleaving, with retries and doubles: one end state, each done once.

What was done is counted apart from the keys: hours, faults, parts, things off, photographs and steps are read from their own tables.
"""

from __future__ import annotations

import json
import uuid
from collections import Counter
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.models import Defect, JobCard, PartNeed, Reading, StripItem, WorkLog
from maintenance.phone import applying
from maintenance.services import bench, cards

pytestmark = pytest.mark.django_db
PHONES, JOBS = 3, 2
ACTS = ("hours", "found", "part", "off", "reading", "step", "step again")


@dataclass(frozen=True)
class Sending:
    """One entry as a phone keeps it."""

    phone: int
    job: int
    act: str
    number: int

    @property
    def key(self) -> str:
        return str(uuid.uuid5(uuid.NAMESPACE_OID, f"{self.phone} {self.job} {self.number}"))


class Rolled(Exception):
    """Takes all of one example back."""


@st.composite
def days(draw: st.DrawFn) -> list[tuple[int, bool]]:
    """What each phone wrote, and the order in which senders come: (place of the entry, whether its answer was lost)."""
    entries = draw(
        st.lists(
            st.tuples(st.integers(0, PHONES - 1), st.integers(0, JOBS - 1), st.sampled_from(ACTS)),
            min_size=1, max_size=9,
        )
    )  # fmt: skip
    kept = [Sending(phone, job, act, number) for number, (phone, job, act) in enumerate(entries)]
    return kept, draw(st.lists(st.integers(0, 30), max_size=40)), draw(st.lists(st.booleans(), max_size=40))


def sends(kept: list[Sending], picks: list[int], lost: list[bool]) -> list[Sending]:
    """A phone sends the next of one of its jobs. A lost answer: the same again; and at any time an old one comes once more."""
    lanes: dict[tuple[int, int], list[Sending]] = {}
    for one in kept:
        lanes.setdefault((one.phone, one.job), []).append(one)
    order: list[Sending] = []
    rounds = iter([*picks, *[0] * 99])
    losses = iter(lost)
    while any(lanes.values()):
        open_lanes = [lane for lane in lanes.values() if lane]
        pick = next(rounds)
        lane = open_lanes[pick % len(open_lanes)]
        order.append(lane[0])
        if not next(losses, False):
            lane.pop(0)
        if order and pick % 5 == 4:
            order.append(order[pick % len(order)])
    return order


def body(one: Sending, place: Any) -> dict[str, str]:
    fields = {
        "hours": {"hours": "0.5", "note": f"n{one.number}"},
        "found": {"words": f"n{one.number}"},
        "part": {"name": f"n{one.number}", "quantity": "1"},
        "off": {"what": f"n{one.number}", "count": "1"},
        "reading": {"target": str(place.measure), "value_0": "3.5", "moment": "as found", "note": f"n{one.number}"},
        "step": {"target": str(place.steps[one.job]), "done": "1"},
        "step again": {"target": str(place.steps[one.job]), "done": "1"},
    }[one.act]  # fmt: skip
    return {"act": one.act.split()[0], "key": one.key, **fields}


@pytest.fixture
def place(job, mechanic, lead, coordinator, vehicle, login):
    lead.is_mechanic = coordinator.is_mechanic = True
    lead.save()
    coordinator.save()
    measure = job.measures.get()
    other = cards.card_open(
        by=lead, vehicle=vehicle, title="Second", subsystem=job.subsystem, steps=["Look."]
    )
    cards.card_plan(card=other, by=lead, measures=[measure])
    jobs = [job, other]
    people = [mechanic, lead, coordinator]
    for card in jobs:
        for person in people:
            bench.cautions_read(card=card, by=person)
    hands: list[Client] = [login(person) for person in people]
    steps = [card.steps.first().pk for card in jobs]
    return SimpleNamespace(jobs=jobs, hands=hands, steps=steps, measure=measure.pk)


def post(place: Any, one: Sending) -> dict[str, Any]:
    url = reverse("maintenance:card", args=[place.jobs[one.job].pk])
    answer = place.hands[one.phone].post(url, body(one, place), headers={"Accept": "application/json"})
    return json.loads(answer.content)


def done(place: Any) -> dict[str, Counter[Any]]:
    """What is in the tables, by job and mark; numbers that hang on the order are left out."""
    return {
        "hours": Counter(WorkLog.objects.values_list("card", "note")),
        "found": Counter(Defect.objects.filter(found_on__in=place.jobs).values_list("found_on", "words")),
        "part": Counter(PartNeed.objects.values_list("card", "name")),
        "off": Counter(StripItem.objects.values_list("card", "what")),
        "reading": Counter(Reading.objects.values_list("card", "note")),
        "steps": Counter(JobCard.objects.filter(steps__done_at__isnull=False).values_list("pk", "steps__pk")),
    }


def wanted(place: Any, kept: list[Sending]) -> dict[str, Counter[Any]]:
    found: dict[str, Counter[Any]] = {
        name: Counter() for name in ("hours", "found", "part", "off", "reading", "steps")
    }
    for one in kept:
        card = place.jobs[one.job].pk
        if one.act.startswith("step"):
            found["steps"][card, place.steps[one.job]] = 1
        else:
            found[one.act][card, f"n{one.number}"] += 1
    return found


def play(place: Any, day: Any) -> None:
    kept, picks, lost = day
    try:
        with transaction.atomic():
            answers: dict[str, dict[str, Any]] = {}
            for one in sends(kept, picks, lost):
                told = post(place, one)
                assert told["taken"], told
                assert answers.setdefault(one.key, told)["words"] == told["words"]
            assert done(place) == wanted(place, kept)
            assert set(answers) == {one.key for one in kept}
            raise Rolled
    except Rolled:
        pass


FEW = settings(
    max_examples=60, deadline=None, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip


def test_nothing_is_lost_or_doubled_in_any_order(place):
    @FEW
    @given(days())
    def played(day: Any) -> None:
        play(place, day)

    played()


def test_the_test_would_see_a_server_that_forgets_its_keys(place, monkeypatch):
    """A broken control: each sending is done as if it were new."""
    monkeypatch.setattr(applying, "_taken_before", lambda *_: None)
    monkeypatch.setattr(applying, "once", lambda **words: (words["do"](), False))
    twice = [Sending(0, 0, "hours", 0)]
    with pytest.raises(AssertionError):
        play(place, (twice, [0], [True]))


def test_the_test_would_see_a_server_that_says_taken_and_does_nothing(place, monkeypatch):
    """A broken control: the second entry of a job is answered as if it had been done."""
    seen: list[str] = []
    real = applying._do

    def every_other(act: Any, press: Any) -> dict[str, Any]:
        seen.append(act.section)
        return real(act, press) if len(seen) % 2 else {"said": "Done.", "version": 1, "clean": False}

    monkeypatch.setattr(applying, "_do", every_other)
    with pytest.raises(AssertionError):
        play(place, ([Sending(0, 0, "hours", 0), Sending(0, 0, "part", 1)], [0], []))
