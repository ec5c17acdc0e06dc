"""An act from a phone is done once. The effect is counted apart from the key."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.errors import Conflict
from maintenance.models import DefectNote, Submission
from maintenance.services.submissions import digest_of, once
from tests.factories import DefectFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def send(mechanic):
    defect = DefectFactory()

    def act(key="k1", text="seen", person=mechanic, fail=False):
        def do():
            note = DefectNote.objects.create(defect=defect, by=person, text=text)
            if fail:
                raise RuntimeError("power cut")
            return {"note": note.pk, "order": (1, 2)}

        return once(key=key, person=person, act="defect.note", payload={"text": text}, do=do)

    return act


def test_sent_twice_done_once_and_both_answers_alike(send):
    first, repeated = send()
    again, repeated_again = send()
    assert (repeated, repeated_again) == (False, True)
    assert first == again == {"note": first["note"], "order": [1, 2]}
    assert DefectNote.objects.count() == 1


def test_another_key_is_another_act(send):
    send("k1")
    send("k2")
    assert DefectNote.objects.count() == 2


def test_the_same_key_with_other_content_is_refused(send):
    send(text="seen")
    with pytest.raises(Conflict, match="other content"):
        send(text="seen twice")
    assert DefectNote.objects.count() == 1


def test_anothers_key_gives_nothing_away(send, lead):
    send()
    with pytest.raises(Conflict, match="somebody else"):
        send(person=lead)
    with pytest.raises(Conflict, match="somebody else"):
        send(person=None)
    assert DefectNote.objects.count() == 1


def test_what_failed_may_be_sent_again(send):
    with pytest.raises(RuntimeError):
        send(fail=True)
    assert (Submission.objects.count(), DefectNote.objects.count()) == (0, 0)
    assert send()[1] is False
    assert DefectNote.objects.count() == 1


@given(
    st.dictionaries(st.text(max_size=4), st.one_of(st.integers(), st.text(max_size=4), st.none()), max_size=5)
)
def test_the_order_of_writing_does_not_matter(payload):
    backwards = dict(reversed(list(payload.items())))
    assert digest_of("a", payload) == digest_of("a", backwards)
    assert digest_of("a", payload) != digest_of("b", payload)
    assert digest_of("a", payload) != digest_of("a", {**payload, "one more": 1})
