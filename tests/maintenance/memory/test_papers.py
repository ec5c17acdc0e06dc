"""Readings on cardboard wait, nag, and become readings dated by the photograph."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse
from django.utils import timezone

from fleet.http import forget_museum
from fleet.services.photos import photo_add
from maintenance.models import Reading, ToCopy
from maintenance.services.copying import paper_copy, paper_done, paper_keep, papers_open
from maintenance.services.readings import measure_add
from readiness.digest_words import lead as lead_letter
from readiness.queries.reminders import told
from tests.factories import VehicleFactory
from tests.maintenance.desk.handing_in import text


@pytest.fixture
def paper(shed, cast, picture):
    photo = photo_add(by=cast.mechanic, upload=picture(), vehicle=shed.vehicle)
    return paper_keep(by=cast.mechanic, vehicle=shed.vehicle, photo=photo, card=shed.card, words="Rim play")


def test_copied_by_another_with_the_moment_of_the_photograph(paper, shed, cast):
    row = paper_copy(paper=paper, by=cast.lead, measure=shed.measure, values=["31"])
    assert (row.at, row.by, row.card) == (paper.photo.taken_at, cast.lead, shed.card)
    assert row.verdict == "past", "most 30 mm"
    assert papers_open() == [paper]
    done = paper_done(paper=paper, by=cast.lead)
    assert (done.done_by, papers_open()) == (cast.lead, [])
    with pytest.raises(ValidationError, match="copied already"):
        paper_copy(paper=paper, by=cast.lead, measure=shed.measure, values=["31"])


def test_done_without_a_reading_says_why(paper, cast):
    with pytest.raises(ValidationError, match="Write why"):
        paper_done(paper=paper, by=cast.lead)
    assert (
        paper_done(paper=paper, by=cast.lead, words="Washed out by rain.").done_words == "Washed out by rain."
    )


def test_not_onto_another_vehicle(paper, cast, shed):
    shed.measure.vehicle = VehicleFactory()
    shed.measure.save()
    with pytest.raises(ValidationError, match="another vehicle"):
        paper_copy(paper=paper, by=cast.lead, measure=shed.measure, values=["31"])
    assert not paper.readings.exists()


def test_a_driver_copies_nothing(paper, cast, shed):
    with pytest.raises(PermissionDenied):
        paper_copy(paper=paper, by=cast.driver, measure=shed.measure, values=["31"])


def test_it_nags_the_lead_until_it_is_done(paper, cast, museum):
    def letter():
        now = timezone.localtime().replace(tzinfo=None)
        return [line.words for line in lead_letter(told(now), cast.lead, now.date())]

    assert any(words.startswith("Copy: readings on paper") for words in letter())
    paper_done(paper=paper, by=cast.lead, words="Nothing legible.")
    assert not any(words.startswith("Copy:") for words in letter())


def test_the_pages(shed, login, cast, picture):
    client = login(cast.mechanic)
    url = f"{reverse('maintenance:paper_new', args=[shed.vehicle.code])}?card={shed.card.pk}"
    answer = client.post(url, {"photo": picture(), "words_": "Rim", "card": str(shed.card.pk), "key": "a"})
    row = ToCopy.objects.get()
    page = reverse("maintenance:paper", args=[row.pk])
    assert (answer.headers["Location"], row.card) == (page, shed.card)
    assert "Rim" in text(client.get(reverse("maintenance:papers")))
    assert "Rim" in text(client.get(reverse("maintenance:workshop")))
    one = f"{page}?measure={shed.measure.pk}"
    assert shed.measure.name in text(client.get(one))
    before = Reading.objects.count()
    typed = {"value-0": "29,5", "moment_of": "as found", "key": "b"}
    assert client.post(one, typed).status_code == 302
    assert client.post(one, typed).status_code == 302
    assert Reading.objects.count() == before + 1
    assert client.post(one, typed | {"value-0": "wet", "key": "c"}).status_code == 422
    assert client.post(reverse("maintenance:paper_end", args=[row.pk]), {}).status_code == 302
    assert ToCopy.objects.get().done_by == cast.mechanic


def test_a_file_that_is_no_photograph_is_refused_at_its_field(shed, login, cast):
    from django.core.files.uploadedfile import SimpleUploadedFile

    url = reverse("maintenance:paper_new", args=[shed.vehicle.code])
    bad = SimpleUploadedFile("x.jpg", b"not a picture", "image/jpeg")
    answer = login(cast.mechanic).post(url, {"photo": bad, "words_": "Rim"})
    assert (answer.status_code, ToCopy.objects.count()) == (422, 0)
    assert answer.context["form"].errors["photo"]


def test_a_gauge_in_psi_is_read_as_it_is(shed, login, cast, museum):
    museum.pressure_unit = "psi"
    museum.save()
    forget_museum()
    oil = measure_add(
        by=cast.lead, vehicle=shed.vehicle, system="ENG", name="Oil pressure", judgement="min", unit="bar", low="2.1",
        source="house rule",
    )  # fmt: skip
    client = login(cast.mechanic)
    url = f"{reverse('maintenance:reading_add', args=[shed.vehicle.code])}?measure={oil.pk}"
    page = text(client.get(url))
    assert "2.1 bar (30.5 psi) least" in page
    assert "write psi behind the figure" in page
    assert client.post(url, {"value-0": "30 psi", "moment_of": "check", "key": "k"}).status_code == 302
    row = Reading.objects.get(measure=oil)
    assert (row.values, row.verdict, row.note) == (["2.068427"], "past", "Read as 30 psi.")
    answer = client.post(url, {"value-0": "30 lb", "moment_of": "check", "key": "l"})
    assert (answer.status_code, Reading.objects.filter(measure=oil).count()) == (422, 1)
    assert "lb measures mass" in text(answer)
