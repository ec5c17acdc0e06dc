"""People: who they are, what they may do, what they can do, when they are in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models.functions import Coalesce

from fleet.enums import CompetenceKind, Engagement, InspectArea

ROLES = ("driver", "mechanic", "lead", "coordinator", "manager", "curator", "administrator")


class Skill(models.Model):
    """A trade skill in the museum's own words: petrol, brakes, canvas."""

    name = models.CharField(max_length=60, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PersonManager(BaseUserManager["Person"]):
    def create_user(self, username: str, name: str, password: str | None = None, **fields: object) -> Person:
        person = self.model(username=username, name=name, **fields)
        person.set_password(password)
        person.full_clean()
        person.save()
        return person

    def create_superuser(
        self, username: str, name: str, password: str | None = None, **fields: object
    ) -> Person:
        fields.setdefault("is_administrator", True)
        return self.create_user(username, name, password, **fields)


class Person(AbstractBaseUser, PermissionsMixin):
    """Somebody the museum knows. Most sign in; a borrowed hand may never."""

    code = models.CharField(
        max_length=20,
        unique=True,
        validators=[RegexValidator(r"^[A-Za-z0-9_-]+$", "Letters, digits, - and _ only.")],
        help_text="Short name used in tables, such as P04.",
    )
    username = models.CharField("sign-in name", max_length=60, unique=True)
    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    engagement = models.CharField(max_length=10, choices=Engagement.choices, default=Engagement.VOLUNTEER)
    is_driver = models.BooleanField("driver", default=False)
    is_mechanic = models.BooleanField("mechanic", default=False)
    is_lead = models.BooleanField("workshop lead", default=False)
    is_coordinator = models.BooleanField("coordinator", default=False)
    is_manager = models.BooleanField("manager", default=False)
    is_curator = models.BooleanField("curator", default=False)
    is_administrator = models.BooleanField("administrator", default=False)
    is_trainee = models.BooleanField("trainee, never alone", default=False)
    skills = models.ManyToManyField(Skill, blank=True, related_name="people")
    day_start = models.TimeField(default=dt.time(10))
    day_end = models.TimeField(default=dt.time(16))
    worked_quarters = models.PositiveSmallIntegerField(
        "quarter-hours at the bench in a work day",
        default=16,
        validators=[MinValueValidator(1), MaxValueValidator(96)],
    )
    turn_up = models.DecimalField(
        "chance of turning up on a work day",
        max_digits=3,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(1))],
        help_text="Empty: the museum's figure for volunteers or staff.",
    )
    pin = models.CharField(
        max_length=128, blank=True, help_text="Hashed; proves a second signature on another's phone."
    )
    must_change_password = models.BooleanField(
        default=False, editable=False, help_text="Signed in with a one-time code."
    )
    code_until = models.DateTimeField("one-time code good until", null=True, blank=True, editable=False)
    left_on = models.DateField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)

    objects = PersonManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name", "code"]

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name

    @property
    def is_staff(self) -> bool:
        """The admin site is for the administrator alone."""
        return self.is_administrator

    def has_perm(self, perm: str, obj: object = None) -> bool:
        return self.is_active and self.is_administrator

    def has_perms(self, perm_list: Iterable[str], obj: object = None) -> bool:
        return self.is_active and self.is_administrator

    def has_module_perms(self, app_label: str) -> bool:
        return self.is_active and self.is_administrator

    @property
    def roles(self) -> tuple[str, ...]:
        return tuple(role for role in ROLES if getattr(self, f"is_{role}"))

    def has_role(self, *roles: str) -> bool:
        return self.is_active and any(getattr(self, f"is_{role}") for role in roles)

    @property
    def first_name(self) -> str:
        return self.name.split(" ", 1)[0]

    @property
    def initials(self) -> str:
        return "".join(part[0] for part in self.name.split() if part).upper()[:3] + "."

    def clean(self) -> None:
        super().clean()
        if self.day_end <= self.day_start:
            raise ValidationError({"day_end": "The work day must end after it starts."})
        quarters = (
            dt.datetime.combine(dt.date.min, self.day_end) - dt.datetime.combine(dt.date.min, self.day_start)
        ) // dt.timedelta(minutes=15)
        if self.worked_quarters > quarters:
            raise ValidationError(
                {
                    "worked_quarters": f"Only {quarters} quarter-hours lie between {self.day_start:%H:%M} and {self.day_end:%H:%M}."
                }
            )


class WorkPattern(models.Model):
    """A weekday on which somebody is in, every week or every second week from a given date."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="patterns")
    weekday = models.PositiveSmallIntegerField(
        choices=list(
            enumerate(["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"])
        )
    )
    every_weeks = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(8)]
    )
    counted_from = models.DateField(
        null=True, blank=True, help_text="A day on which the pattern holds; needed when not weekly."
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "weekday"], name="one_pattern_a_weekday")]

    def __str__(self) -> str:
        return f"{self.person} {self.get_weekday_display()}"

    def clean(self) -> None:
        if self.every_weeks > 1 and self.counted_from is None:
            raise ValidationError({"counted_from": "Say from which day the weeks are counted."})
        if self.counted_from is not None and self.counted_from.weekday() != self.weekday:
            raise ValidationError({"counted_from": "That day is not the weekday of the pattern."})

    def holds_on(self, day: dt.date) -> bool:
        if day.weekday() != self.weekday:
            return False
        if self.every_weeks == 1 or self.counted_from is None:
            return True
        return ((day - self.counted_from).days // 7) % self.every_weeks == 0


class DayException(models.Model):
    """In on a day outside the pattern, or away on a day inside it."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="day_exceptions")
    day = models.DateField()
    is_in = models.BooleanField("in (not away)", default=False)
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "day"], name="one_exception_a_day")]

    def __str__(self) -> str:
        return f"{self.person} {'in' if self.is_in else 'away'} {self.day:%d %b}"


class SignIn(models.Model):
    """Who came on a work day; the turn-up is learnt from these."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sign_ins")
    day = models.DateField()
    came = models.BooleanField(default=True)
    arrived = models.TimeField(null=True, blank=True)
    left = models.TimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "day"], name="one_sign_in_a_day")]

    def __str__(self) -> str:
        return f"{self.person} {self.day:%d %b}"


class Competence(models.Model):
    """What a person has been checked for, on what, until when (valid through that day)."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="competences")
    kind = models.CharField(max_length=20, choices=CompetenceKind.choices)
    vehicle = models.ForeignKey(
        "fleet.Vehicle", on_delete=models.CASCADE, null=True, blank=True, related_name="competences"
    )
    area = models.CharField(max_length=20, choices=InspectArea.choices, blank=True)
    with_person = models.ForeignKey(
        Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    valid_through = models.DateField(null=True, blank=True, help_text="Empty: no end.")
    checked_by = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["person", "kind", "vehicle"]
        constraints = [
            # An empty vehicle counts as a value here, on every database.
            models.UniqueConstraint(
                models.F("person"),
                models.F("kind"),
                Coalesce("vehicle", 0),
                models.F("area"),
                name="one_competence_each",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_kind_display()} {self.vehicle or self.area}".strip()

    def clean(self) -> None:
        if self.kind in {CompetenceKind.DRIVE, CompetenceKind.FIREMAN} and self.vehicle is None:
            raise ValidationError({"vehicle": "Say which vehicle."})
        if self.kind == CompetenceKind.INSPECT and not self.area:
            raise ValidationError({"area": "Say for which area the person may pass another's work."})
