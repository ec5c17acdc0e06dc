"""What the acts on the programme and its papers are called after a person's name."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fleet.services import acts

PROGRAMME_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "event.add": "added the event",
        "event.change": "changed the event",
        "event.over": "wrote down that the event is over",
        "event.call_off": "called the event off",
        "event.plan_again": "planned the event again",
        "event.light": "wrote down the hours of daylight",
        "event.go": "signed the go",
        "freeze.move": "moved the freeze",
        "rules.change": "changed what a role asks",
        "learnt.overrule": "overruled a learnt figure",
        "learnt.restore": "let the record speak again",
        "slot.add": "added a slot",
        "slot.change": "changed a slot",
        "slot.drop": "dropped a slot",
        "slot.copy": "copied a slot to the other days",
        "slot.crew": "named the crew of a slot",
        "entry.enter": "entered a vehicle",
        "entry.change": "changed an entry",
        "entry.swap": "swapped the vehicle of an entry",
        "entry.drop": "took a vehicle out of a slot",
        "entry.crew": "named the crew of an entry",
        "entry.tick": "said that the slot obeys a limit",
        "entry.untick": "took back that the slot obeys a limit",
        "entry.ran": "wrote down what became of an entry",
        "rehearsal.add": "planned a rehearsal",
        "rehearsal.drop": "dropped a rehearsal",
        "print.paper": "printed a paper",
        "digest.seen": "read a reminder",
    }
)


def words_of(act: str) -> str:
    """Such as "moved the freeze"; acts of the workshop and the fleet have their words there."""
    return PROGRAMME_WORDS.get(act) or acts.words_of(act)
