"""Who may do what, as one table of role by act, the stranger included."""

import pytest
from django.contrib.auth.models import AnonymousUser

from fleet.rules import ACTS, EVERYBODY_HERE, GROUPS, ROLE_ORDER, may, may_set_days, may_sign_in, refusal

D, M, L, C, G, K, A = ROLE_ORDER
ALL = set(ROLE_ORDER)
# Typed apart from the code: the acts on which somebody's safety or the museum's word hangs.
EXPECTED = {
    "fault.report": ALL,
    "fault.slip": {*ALL, "stranger"},
    "photo.add": ALL,
    "print.papers": ALL,
    "meter.read": {D, M, L, C},
    "fact.add": {D, M, L, C, K},
    "fact.correct": {M, L, K},
    "defect.assess": {L},
    "defect.set_aside": {L},
    "defect.merge": {L},
    "deferral.serious": {L, G},
    "deferral.medium": {L},
    "deferral.low": {M, L},
    "deferral.withdraw": {L, G},
    "card.open": {M, L},
    "card.take": {M, L},
    "card.close": {M, L},
    "card.take_fabric": {M, L, K},
    "card.test": {D, M, L},
    "card.second_sign": {D, M, L},
    "card.return": {L},
    "card.drop": {L},
    "consent.answer": {K},
    "tag.hang": ALL,
    "tag.lift": {L},
    "part.order": {L, C},
    "part.receive": {M, L, C},
    "part.rob": {L},
    "inspection.record": {M, L, C},
    "check.first_parade": {D, M, L},
    "check.after_use": {D, M, L},
    "check.condition": {K},
    "measure.limit": {L},
    "vehicle.add": {L, C, K, A},
    "vehicle.status": {L, G},
    "person.add": {A},
    "person.leave": {A},
    "person.code": {A},
    "museum.change": {A},
    "days.own": ALL,
    "days.others": {C, A},
    "entry.enter": {C, G},
    "entry.ran": {L, C},
    "programme.change": {C, G},
    "event.go": {G},
    "data.import": {C, A},
    "backup.make": {A},
}


@pytest.mark.parametrize("act", sorted(EXPECTED))
def test_the_roles_of_an_act(act, cast):
    allowed = {role for role in ROLE_ORDER if may(getattr(cast, role), act)}
    strangers = {"stranger"} if may(AnonymousUser(), act) else set()
    assert allowed | strangers == EXPECTED[act]


def test_a_stranger_may_do_one_thing():
    assert [act for act in ACTS if may(None, act)] == ["fault.slip"]
    assert [act for act in ACTS if may(AnonymousUser(), act)] == ["fault.slip"]


def test_who_has_left_is_a_stranger(lead):
    lead.is_active = False
    assert [act for act in ACTS if may(lead, act)] == ["fault.slip"]


def test_every_act_stands_in_one_group_and_names_only_known_roles():
    assert sorted(act for acts in GROUPS.values() for act in acts) == sorted(ACTS)
    assert all(rule.roles <= EVERYBODY_HERE | {"stranger"} and rule.roles for rule in ACTS.values())


def test_an_unknown_act_is_an_error_not_a_leave(lead):
    with pytest.raises(KeyError):
        may(lead, "card.burn")


def test_the_refusal_says_who_may():
    assert refusal("tag.lift") == (
        "Only the workshop lead may lift a do-not-run tag. Nothing was changed; ask one of them."
    )
    assert refusal("part.order").startswith("Only the workshop lead or the coordinator may order a part.")


def test_days_are_said_by_oneself_or_by_the_coordinator(cast):
    others = {role for role in ROLE_ORDER if may_set_days(getattr(cast, role), cast.mechanic.pk)}
    signed = {role for role in ROLE_ORDER if may_sign_in(getattr(cast, role), cast.mechanic.pk)}
    assert others == {M, C, A}
    assert signed == {M, L, C}
    assert not may_set_days(None, cast.mechanic.pk)
