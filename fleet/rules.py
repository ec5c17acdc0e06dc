"""Who may do what: one table for the whole house, and the predicate that reads it.

Pages, templates, services and docs/acts.md all read this table. Rules that look at the thing itself as well
(whose job it is, who did the work) stand in the rules of the app that owns the thing and begin from here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

DRIVER, MECHANIC, LEAD, COORDINATOR = "driver", "mechanic", "lead", "coordinator"
MANAGER, CURATOR, ADMINISTRATOR, STRANGER = "manager", "curator", "administrator", "stranger"
ROLE_ORDER = (DRIVER, MECHANIC, LEAD, COORDINATOR, MANAGER, CURATOR, ADMINISTRATOR)
EVERYBODY_HERE = frozenset(ROLE_ORDER)
ROLE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        DRIVER: "a driver",
        MECHANIC: "a mechanic",
        LEAD: "the workshop lead",
        COORDINATOR: "the coordinator",
        MANAGER: "the manager",
        CURATOR: "the curator",
        ADMINISTRATOR: "the administrator",
    }
)


class Actor(Protocol):
    """Whoever asks: a person, or a visitor without a sign-in."""

    @property
    def is_active(self) -> bool: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row: what the act is called in a sentence ("may ..."), and the roles that may do it."""

    words: str
    roles: frozenset[str]


def _rule(words: str, *roles: str) -> Rule:
    return Rule(words=words, roles=frozenset(roles))


def _all(words: str, *more: str) -> Rule:
    return Rule(words=words, roles=EVERYBODY_HERE | frozenset(more))


_FLEET = {
    "vehicle.add": _rule("add a vehicle", LEAD, COORDINATOR, CURATOR, ADMINISTRATOR),
    "vehicle.change": _rule(
        "change what is written about a vehicle", LEAD, COORDINATOR, CURATOR, ADMINISTRATOR
    ),
    "vehicle.status": _rule("stand a vehicle down or bring it back", LEAD, MANAGER),
    "vehicle.tag_key": _rule("renew the printed fault-slip code", LEAD, COORDINATOR, ADMINISTRATOR),
    "paper.set": _rule("file a vehicle's papers", LEAD, COORDINATOR, MANAGER),
    "meter.read": _rule("read a meter", DRIVER, MECHANIC, LEAD, COORDINATOR),
    "outing.add": _rule("write down an outing", DRIVER, MECHANIC, LEAD, COORDINATOR),
    "fact.add": _rule("add to what we know", DRIVER, MECHANIC, LEAD, COORDINATOR, CURATOR),
    "fact.correct": _rule("correct what we know", MECHANIC, LEAD, CURATOR),
    "photo.add": _all("add a photograph"),
    "person.add": _rule("add a person", ADMINISTRATOR),
    "person.change": _rule("change a person's particulars and roles", ADMINISTRATOR),
    "person.leave": _rule("write down that a person has left", ADMINISTRATOR),
    "person.code": _rule("give a one-time sign-in code", ADMINISTRATOR),
    "competence.set": _rule("write down what a person has been checked for", LEAD, MANAGER, ADMINISTRATOR),
    "days.own": _all("say when they are in or away themselves"),
    "days.others": _rule("say when another person is in or away", COORDINATOR, ADMINISTRATOR),
    "sign_in.others": _rule("write down who came", LEAD, COORDINATOR),
    "pin.own": _all("set their own PIN"),
    "museum.change": _rule("change the museum's settings", ADMINISTRATOR),
    "data.import": _rule("bring in tables", COORDINATOR, ADMINISTRATOR),
    "data.export": _rule("take tables out", LEAD, COORDINATOR, MANAGER, ADMINISTRATOR),
    "backup.make": _rule("make a backup", ADMINISTRATOR),
}
_WORKSHOP = {
    "fault.slip": _all("hand in a fault slip", STRANGER),
    "fault.report": _all("report a fault"),
    "defect.note": _all("add a note to a fault"),
    "defect.assess": _rule("assess a fault", LEAD),
    "defect.set_aside": _rule("set a fault report aside", LEAD),
    "defect.merge": _rule("join two fault reports", LEAD),
    "defect.reopen": _rule("open a fault again", MECHANIC, LEAD),
    "deferral.serious": _rule("sign for a Serious risk to be put off", LEAD, MANAGER),
    "deferral.medium": _rule("sign for a Medium risk to be put off", LEAD),
    "deferral.low": _rule("sign for a Low risk to be put off", MECHANIC, LEAD),
    "deferral.withdraw": _rule("withdraw a put-off", LEAD, MANAGER),
    "card.open": _rule("open a job", MECHANIC, LEAD),
    "card.open_fabric": _rule("open a fabric job", MECHANIC, LEAD, CURATOR),
    "card.plan": _rule("book a job in and change its plan", MECHANIC, LEAD, COORDINATOR),
    "card.take": _rule("take a job and write on it", MECHANIC, LEAD),
    "card.take_fabric": _rule("take a fabric job and write on it", MECHANIC, LEAD, CURATOR),
    "card.close": _rule("hand in a job", MECHANIC, LEAD),
    "card.close_fabric": _rule("hand in a fabric job", MECHANIC, LEAD, CURATOR),
    "card.test": _rule("record a test", DRIVER, MECHANIC, LEAD),
    "card.second_sign": _rule(
        "check another's safety work and sign for it, once authorised for that area", DRIVER, MECHANIC, LEAD
    ),
    "card.return": _rule("sign a vehicle's return to service", LEAD),
    "card.reopen": _rule("open a finished job again", MECHANIC, LEAD),
    "card.no_fault": _rule("end a job with no fault found", MECHANIC, LEAD),
    "card.drop": _rule("drop a job that is not needed", LEAD),
    "consent.answer": _rule("answer for the fabric of a vehicle", CURATOR),
    "tag.hang": _all("hang a do-not-run tag"),
    "tag.lift": _rule("lift a do-not-run tag", LEAD),
    "part.need": _rule("say which part a job needs", MECHANIC, LEAD, COORDINATOR),
    "part.order": _rule("order a part", LEAD, COORDINATOR),
    "part.receive": _rule("take in a part", MECHANIC, LEAD, COORDINATOR),
    "part.rob": _rule("take a part from another vehicle", LEAD),
    "inspection.plan": _rule("set up or book an inspection", LEAD, COORDINATOR),
    "inspection.record": _rule("record an inspection", MECHANIC, LEAD, COORDINATOR),
    "check.event": _rule("record an event check", DRIVER, MECHANIC, LEAD),
    "check.first_parade": _rule("record a first parade", DRIVER, MECHANIC, LEAD),
    "check.after_use": _rule("record an after-use check", DRIVER, MECHANIC, LEAD),
    "check.condition": _rule("record a condition check", CURATOR),
    "measure.add": _rule("set up a reading", MECHANIC, LEAD),
    "measure.limit": _rule("change the limit of a reading", LEAD),
    "reading.add": _rule("write down a reading", MECHANIC, LEAD, CURATOR),
    "which.fill": _rule("work a which-part sheet", MECHANIC, LEAD),
    "which.edit": _rule("change the which-part sheets to start from", LEAD),
    "reading.copy": _rule("copy readings from paper", MECHANIC, LEAD, CURATOR),
    "incident.report": _all("write down an accident or a near miss"),
    "incident.note": _all("add to an accident or a near miss"),
    "incident.release": _rule("release a vehicle that was held as found", LEAD, MANAGER),
    "incident.close": _rule("close an accident or a near miss", LEAD, MANAGER),
    "book.take": _rule("take away the book of a vehicle", LEAD, COORDINATOR, MANAGER, CURATOR, ADMINISTRATOR),
    "outside.ask": _rule("ask somebody from outside", LEAD, COORDINATOR),
    "fabric.part": _rule("write down what is original and where it lies", LEAD, CURATOR),
    "fabric.off": _rule("write down that an original part came off", MECHANIC, LEAD, CURATOR),
    "fabric.dispose": _rule("part with an original", CURATOR),
    "fabric.propose": _rule("propose a change of fabric", MECHANIC, LEAD, CURATOR),
    "workshop.change": _rule("change places, ways in and special tools", LEAD, COORDINATOR),
}
_PROGRAMME = {
    "event.add": _rule("add an event", COORDINATOR, MANAGER),
    "programme.change": _rule("change the programme", COORDINATOR, MANAGER),
    "entry.enter": _rule("enter a vehicle", COORDINATOR, MANAGER),
    "entry.tick": _rule("say that a slot obeys a limit in words", LEAD, COORDINATOR, MANAGER),
    "plan.make": _rule("make a proposal the plan", LEAD, COORDINATOR),
    "rules.change": _rule("change what a role asks", LEAD, MANAGER),
    "print.papers": _all("print the papers"),
    "event.go": _rule("sign the go for an event", MANAGER),
}
ACTS: Mapping[str, Rule] = MappingProxyType({**_FLEET, **_WORKSHOP, **_PROGRAMME})
GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Vehicles, people, museum": tuple(_FLEET),
        "Workshop": tuple(_WORKSHOP),
        "Events": tuple(_PROGRAMME),
    }
)


def may(actor: Actor | None, act: str) -> bool:
    """Whether somebody may do an act. None, a visitor, and one who has left count as strangers."""
    rule = ACTS[act]
    if STRANGER in rule.roles:
        return True
    has_role = getattr(actor, "has_role", None)
    return bool(has_role is not None and has_role(*rule.roles))


def refusal(act: str) -> str:
    """What a person is told who may not: who may, and whom to ask."""
    rule = ACTS[act]
    names = [ROLE_WORDS[role] for role in ROLE_ORDER if role in rule.roles]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
    return f"Only {listed} may {rule.words}. Nothing was changed; ask one of them."


def may_set_days(actor: Actor | None, person_id: int) -> bool:
    """Everybody says when they are in themselves; the coordinator says it for others."""
    own = getattr(actor, "pk", None) == person_id
    return may(actor, "days.own" if own else "days.others")


def may_sign_in(actor: Actor | None, person_id: int) -> bool:
    own = getattr(actor, "pk", None) == person_id
    return may(actor, "days.own" if own else "sign_in.others")
