"""The job card on paper: two sides, cautions first, what is known printed and the rest left to write."""

from io import BytesIO

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from fleet.hazards import ABOVE_ALL
from maintenance.models import JobCard, JobStep, StripItem
from maintenance.prints.job_card import context
from maintenance.queries.cards import card_detail

pytestmark = pytest.mark.prints


def pages(client, card):
    answer = client.get(reverse("maintenance:card_print", args=[card.pk]))
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(answer.content)).pages]


def test_two_sides_with_cautions_before_anything_else(shed, cast, login):
    JobStep.objects.create(card=shed.card, order=1, text="Chock the wheels", source="manual, page 3")
    JobCard.objects.filter(pk=shed.card.pk).update(
        second_area="brakes", needs_road_test=True, why="Linings are thin"
    )
    shed.card.measures.add(shed.measure)
    front, back = pages(login(cast.mechanic), shed.card)
    assert (
        front.index("WARNING: do not run")
        < front.index("WARNING: read this before you touch it")
        < front.index("What and why")
    )
    assert ABOVE_ALL.split(".")[0] in front
    for words in (
        "B 02",
        shed.card.serial,
        "Linings are thin",
        "Seal weeps",
        "not above 20 km/h",
        "pack lift",
        "Drum puller",
        "Lining set, not ordered",
        "Free play at the rim",
        "30 most",
        "Chock the wheels",
    ):
        assert words in front.replace("\u00a0", " "), words
    for words in (
        "Off and on again",
        "Left safe at the end of the day",
        "Road test",
        "Checked by another, brakes",
        "Lead: return to service",
        f"job {shed.card.serial}",
    ):
        assert words in back, words


def test_what_is_on_file_is_printed(shed, cast, login):
    StripItem.objects.create(
        card=shed.card, number=1, what="Drum", tray="B7", marks="one dot", back_at=timezone.now()
    )
    StripItem.objects.create(card=shed.card, number=2, what="Shoes", count=4, tray="B8")
    _, back = pages(login(cast.mechanic), shed.card)
    assert "1 Drum B7 one dot back" in back
    assert "2 Shoes, 4 B8" in back


def test_the_curators_line_is_there_where_consent_is_asked(shed, cast, login):
    assert "Curator" not in pages(login(cast.lead), shed.card)[1]
    JobCard.objects.filter(pk=shed.card.pk).update(needs_consent=True)
    assert "Curator: consent first" in pages(login(cast.lead), shed.card)[1]


def test_a_tag_that_was_lifted_is_not_printed(shed):
    assert len(context(card_detail(shed.card.pk), timezone.localtime())["tags"]) == 1
    type(shed.tag).objects.filter(pk=shed.tag.pk).update(lifted_at=timezone.now())
    assert context(card_detail(shed.card.pk), timezone.localtime())["tags"] == []


def test_a_long_list_flows_on_and_repeats_the_number(shed, cast, login):
    for number in range(1, 46):
        StripItem.objects.create(card=shed.card, number=number, what=f"Piece {number}")
    sides = pages(login(cast.mechanic), shed.card)
    assert len(sides) == 3
    assert all(f"job {shed.card.serial}" in side for side in sides[1:])


def test_a_stranger_gets_no_paper(shed, stranger):
    assert stranger.get(reverse("maintenance:card_print", args=[shed.card.pk])).status_code == 302
