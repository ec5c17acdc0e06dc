import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from maintenance.enums import CardState
from maintenance.models import Tag
from maintenance.services.tags import tag_hang, tag_lift
from tests.factories import CardFactory

pytestmark = pytest.mark.django_db
ROLES = ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator")


def test_who_hangs_and_who_lifts(cast, vehicle):
    hung = []
    for role in ROLES:
        hung.append(tag_hang(vehicle=vehicle, by=getattr(cast, role), reason="rim pitted"))
    assert [tag.stub for tag in hung] == ["0001", "0002", "0003", "0004", "0005", "0006", "0007"]
    for role in ROLES:
        if role != "lead":
            with pytest.raises(PermissionDenied, match="Only the workshop lead may lift"):
                tag_lift(tag=hung[0], by=getattr(cast, role), stub="0001")
    assert tag_lift(tag=hung[0], by=cast.lead, stub="0001").lifted_by == cast.lead
    assert Tag.objects.filter(lifted_at=None).count() == 6


def test_a_number_from_the_pad_is_kept_and_used_once(lead, vehicle):
    tag_hang(vehicle=vehicle, by=lead, reason="rim pitted", stub="0417")
    assert tag_hang(vehicle=vehicle, by=lead, reason="rim pitted").stub == "0418"
    assert tag_hang(vehicle=vehicle, by=lead, reason="rim pitted", stub="0002").stub == "0002"
    assert tag_hang(vehicle=vehicle, by=lead, reason="rim pitted").stub == "0419"
    with pytest.raises(ValidationError) as caught:
        tag_hang(vehicle=vehicle, by=lead, reason="rim pitted", stub="0417")
    assert "stub" in caught.value.message_dict


@pytest.mark.parametrize("stub", ["", " ", "0418", "417a", "41", "00"])
def test_the_stub_must_match(stub, lead, vehicle):
    tag = tag_hang(vehicle=vehicle, by=lead, reason="rim pitted", stub="0417")
    with pytest.raises(ValidationError) as caught:
        tag_lift(tag=tag, by=lead, stub=stub)
    assert "stub" in caught.value.message_dict
    tag.refresh_from_db()
    assert tag.lifted_at is None


@pytest.mark.parametrize("stub", ["0417", "417", " 0417 "])
def test_noughts_and_blanks_do_not_matter(stub, lead, vehicle):
    tag = tag_hang(vehicle=vehicle, by=lead, reason="rim pitted", stub="0417")
    assert tag_lift(tag=tag, by=lead, stub=stub).lifted_at is not None
    with pytest.raises(ValidationError, match="lifted already"):
        tag_lift(tag=tag, by=lead, stub=stub)


def test_an_unfinished_job_wants_a_reason(lead, vehicle):
    card = CardFactory(vehicle=vehicle)
    tag = tag_hang(vehicle=vehicle, by=lead, reason="rim pitted", card=card)
    with pytest.raises(ValidationError) as caught:
        tag_lift(tag=tag, by=lead, stub=tag.stub)
    assert "reason" in caught.value.message_dict
    card.state = CardState.PASSED
    card.save()
    assert tag_lift(tag=tag, by=lead, stub=tag.stub).lifted_at is not None
    with pytest.raises(ValidationError, match="another vehicle"):
        tag_hang(vehicle=vehicle, by=lead, reason="x y", card=CardFactory())
    with pytest.raises(ValidationError):
        tag_hang(vehicle=vehicle, by=lead, reason=" ")


def test_a_long_reason_is_cut_at_a_word(lead, vehicle):
    tag = tag_hang(vehicle=vehicle, by=lead, reason="pitted rim " * 30)
    assert len(tag.reason) <= 120
    assert tag.reason.endswith(("rim...", "pitted..."))


def test_a_tag_that_came_from_a_table_is_passed_over(lead, vehicle):
    Tag.objects.create(vehicle=vehicle, reason="x", stub="0001")
    Tag.objects.create(vehicle=vehicle, reason="x", stub="0002")
    assert tag_hang(vehicle=vehicle, by=lead, reason="rim pitted").stub == "0003"
