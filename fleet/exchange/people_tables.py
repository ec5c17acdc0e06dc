"""The tables of the museum and of its people: what they may do, can do, and when they are in."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

from django.contrib.auth.hashers import make_password
from django.db.models import Model

from fleet.enums import CompetenceKind, Engagement, InspectArea
from fleet.exchange.cells import CellError, norm, split_list
from fleet.exchange.kinds import Amount, Clock, Code, Day, Ref, Refs, Text, Whole, Word, Words, Yes
from fleet.exchange.known import Known
from fleet.exchange.rows import Row
from fleet.exchange.shared_columns import PERSON, note
from fleet.exchange.tables import Column, Table
from fleet.models import Competence, DayException, Museum, Person, SignIn, Skill, WorkPattern
from fleet.models.people import ROLES

WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


class SkillRefs(Refs):
    """Skills in the museum's own words: a person may bring along one that nobody had before."""

    def __init__(self) -> None:
        super().__init__("skills")
        self.words = "skills in your own words; between semicolons"

    def read(self, text: str, row: Row) -> list[Model]:
        shelf = row.known.shelf("skills")
        found = []
        for part in split_list(text):
            skill = shelf.by_label.get(norm(part)) or row.known.make("skills", Skill(name=part), part)
            if len(part) > 60:
                raise CellError(f"'{part}' is longer than 60 characters", "a short word such as brakes")
            if skill not in found:
                found.append(skill)
        return found


class Weekday(Word):
    """A weekday, whole or by its first two letters."""

    def __init__(self) -> None:
        super().__init__(list(enumerate(WEEKDAYS)))
        self.by_norm |= {norm(day[:2]): number for number, day in enumerate(WEEKDAYS)}
        self.by_norm |= {norm(day[:3]): number for number, day in enumerate(WEEKDAYS)}

    def write(self, value: Any, known: Known) -> str:
        return "" if value is None else WEEKDAYS[value]

    def values(self) -> tuple[str, ...]:
        return tuple(WEEKDAYS)


def _get_roles(person: Person, known: Known) -> list[str]:
    return list(person.roles)


def _put_roles(person: Person, roles: list[str]) -> None:
    for role in ROLES:
        setattr(person, f"is_{role}", role in roles)


def _fill_person(row: Row) -> None:
    person = row.instance
    assert isinstance(person, Person)
    if not row.is_new:
        return
    person.password = make_password(None)
    if not person.username:
        taken = {norm(other.username) for other in row.shelf.by_label.values() if isinstance(other, Person)}
        plain = unicodedata.normalize("NFKD", person.name.split(" ")[0]).encode("ascii", "ignore").decode()
        first = re.sub(r"[^a-z0-9]", "", plain.casefold())
        person.username = first if first and first not in taken else person.code.casefold()


MUSEUM = Table(
    name="museum", title="Museum", purpose="One row: the museum's name and what it has decided for itself.", model=Museum, single=True,
    columns=(
        Column(name="name", kind=Text(), help="Name of the museum.", example="Brackenhythe Working Vehicle Museum", required=True),
        Column(name="time_zone", kind=Text(), help="Zone in which every time is meant.", example="Europe/London"),
        Column(name="distance_unit", kind=Word([("km", "km"), ("mile", "mile")]), help="Shown on screens; tables are always in kilometres.", example="km"),
        Column(name="pressure_unit", kind=Word([("bar", "bar"), ("psi", "psi")]), help="Shown on screens.", example="bar"),
        Column(name="likely_from", kind=Whole(), help="Chance in 100 from which an entry is Likely.", example="75"),
        Column(name="doubtful_from", kind=Whole(), help="Chance in 100 from which an entry is Doubtful.", example="25"),
        Column(name="thin_at", kind=Whole(), help="Cover of a slot, in 10, below which it is thin.", example="7"),
        Column(name="turn_up_volunteer", kind=Amount(), help="Chance that a volunteer comes on a work day.", example="0.8"),
        Column(name="turn_up_staff", kind=Amount(), help="The same for staff.", example="0.97"),
        Column(name="decision_days", kind=Whole(), help="Days that a decision takes.", example="7"),
        Column(name="spare_days", kind=Whole(), help="Work days kept spare before the freeze.", example="0"),
        Column(name="event_check_days", kind=Whole(), help="Days before an event from which its checks are asked for.", example="7"),
        Column(name="change_over_minutes", kind=Whole(), help="Minutes a person needs between two duties.", example="15"),
        Column(name="untouched_days", kind=Whole(), help="Days after which an opened job speaks up.", example="21"),
        Column(name="keep_names_days", kind=Whole(), help="Days for which names on fault slips are kept.", example="365"),
        Column(name="near_share", kind=Amount(), help="Share of a limit within which a reading is near it.", example="0.1"),
        Column(name="slip_note", kind=Text(), help="Line shown first on every fault slip.", example="Yard telephone 204"),
    ),
)  # fmt: skip

SKILLS = Table(
    name="skills", title="Skills", model=Skill, key=("name",),
    purpose="Only for skills that nobody has yet: those that people have come with the people table.",
    columns=(Column(name="name", kind=Text(), help="The skill in your own word.", example="white metal", required=True),),
)  # fmt: skip

PEOPLE = Table(
    name="people", title="People", model=Person, codes=("code",), unique=("username",), fill=_fill_person,
    purpose="Everybody the museum knows, what they may do here and what they can do. Passwords are never in a table.",
    columns=(
        Column(name="code", kind=Code(), help="Short name used in all other tables.", example="P04", required=True),
        Column(name="name", kind=Text(), help="Full name.", example="Jarek Lind", required=True),
        Column(name="username", kind=Text(), help="Sign-in name; left empty it is the first name.", example="jarek"),
        Column(name="email", kind=Text(), help="For reminders.", example="jarek@example.org"),
        Column(name="telephone", kind=Text(), help="Shown to those on duty."),
        Column(name="engagement", kind=Word(Engagement), help="Volunteer or staff.", example="volunteer"),
        Column(
            name="roles", kind=Words(ROLES, gaps=","), help="What they may do here.", example="mechanic; driver",
            field=" ".join(f"is_{role}" for role in ROLES), get=_get_roles, put=_put_roles,
        ),
        Column(name="trainee", kind=Yes(), field="is_trainee", help="Counts half and never works alone.", example="no"),
        Column(name="skills", kind=SkillRefs(), help="Trade skills in your own words.", example="petrol; carburettors"),
        Column(name="day_start", kind=Clock(), help="Start of a work day.", example="10:00"),
        Column(name="day_end", kind=Clock(), help="End of a work day.", example="16:00"),
        Column(name="worked_quarters", kind=Whole(), help="Quarter-hours at the bench in that day.", example="16"),
        Column(name="turn_up", kind=Amount(), help="Own chance of coming, when not the museum's.", example="0.9"),
        Column(name="left_on", kind=Day(), help="Day on which the person left."),
        Column(name="active", kind=Yes(), field="is_active", help="May sign in.", example="yes"),
    ),
)  # fmt: skip

WORK_DAYS = Table(
    name="work_days", title="Work days", model=WorkPattern, key=("person", "weekday"),
    purpose="The weekdays on which somebody is in: one row for each person and weekday.",
    columns=(
        PERSON,
        Column(name="weekday", kind=Weekday(), help="Whole, or its first letters.", example="Saturday", required=True),
        Column(name="every_weeks", kind=Whole(), help="2 for every second week.", example="1"),
        Column(name="counted_from", kind=Day(), help="A day on which it holds; needed when not every week.", example="HWW-35"),
    ),
)  # fmt: skip

DAYS_AWAY = Table(
    name="days_away", title="Days away, and days in besides", model=DayException, key=("person", "day"),
    purpose="Single days on which somebody is away although the weekday says in, or the other way round.",
    columns=(
        PERSON,
        Column(name="day", kind=Day(), help="Which day.", example="HWW-14", required=True),
        Column(name="present", kind=Yes(), field="is_in", help="yes for a day in besides the pattern.", example="no"),
        Column(name="reason", kind=Text(), help="Why.", example="holiday"),
    ),
)  # fmt: skip

SIGN_INS = Table(
    name="sign_ins", title="Who came", model=SignIn, key=("person", "day"),
    purpose="Who came on past work days. The chance of turning up is learnt from it.",
    columns=(
        PERSON,
        Column(name="day", kind=Day(), help="Which day.", example="2027-03-06", required=True),
        Column(name="came", kind=Yes(), help="no for one who was expected and did not come.", example="yes"),
        Column(name="arrived", kind=Clock(), help="When.", example="10:05"),
        Column(name="left", kind=Clock(), help="When.", example="15:50"),
    ),
)  # fmt: skip

COMPETENCES = Table(
    name="competences", title="What people are checked for", model=Competence, key=("person", "kind", "vehicle", "area"),
    purpose="Who may drive what, take passengers, command, inspect another's work and so on, and until when.",
    columns=(
        PERSON,
        Column(name="kind", kind=Word(CompetenceKind), help="What for.", example="drive", required=True),
        Column(name="vehicle", kind=Ref("vehicles"), help="Needed for drive and fireman.", example="V01"),
        Column(name="area", kind=Word(InspectArea), help="Needed for inspect: which work.", example="brakes"),
        Column(name="with_person", kind=Ref("people"), help="Only with this person aboard.", example="P04"),
        Column(name="valid_through", kind=Day(), help="Last valid day; empty for no end.", example="HWW+60"),
        Column(name="checked_by", kind=Text(), help="Who checked.", example="Dov Hallam"),
        note(),
    ),
)  # fmt: skip
