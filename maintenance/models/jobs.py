"""The job card: one piece of work on one vehicle, from opened to passed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from fleet.enums import InspectArea
from fleet.models import Person, Photo, Skill, Subsystem, Vehicle
from maintenance.enums import (
    OPEN_STATES,
    CardKind,
    CardState,
    HeldFor,
    Reversible,
    SignatureKind,
    TestKind,
    Timing,
)
from maintenance.models.defects import Defect
from maintenance.models.workshop import Access, Place, SpecialTool

HOURS: dict[str, Any] = {"max_digits": 6, "decimal_places": 2, "validators": [MinValueValidator(Decimal(0))]}


class JobCard(models.Model):
    serial = models.CharField(max_length=12, unique=True)
    code = models.CharField(max_length=30, blank=True, help_text="Short name used in tables; may be empty.")
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="cards")
    subsystem = models.ForeignKey(
        Subsystem, on_delete=models.SET_NULL, null=True, blank=True, related_name="cards"
    )
    defects = models.ManyToManyField(
        Defect, blank=True, related_name="cards", help_text="What this card clears."
    )
    inspection = models.ForeignKey(
        "maintenance.Inspection",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="cards",
        help_text="The inspection that this card carries out.",
    )
    kind = models.CharField(max_length=10, choices=CardKind.choices, default=CardKind.DEFECT)
    title = models.CharField(max_length=200)
    why = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=CardState.choices, default=CardState.ASSESSED)
    held_for = models.CharField(max_length=20, choices=HeldFor.choices, blank=True)
    held_until = models.DateField(null=True, blank=True)
    held_note = models.CharField(max_length=200, blank=True)
    timing = models.CharField("when", max_length=4, choices=Timing.choices, default=Timing.BEFORE)
    hours_best = models.DecimalField(null=True, blank=True, **HOURS)
    hours_usual = models.DecimalField(null=True, blank=True, **HOURS)
    hours_bad = models.DecimalField(null=True, blank=True, **HOURS)
    persons = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    suits = models.ForeignKey(
        Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="suited_cards"
    )
    skills = models.ManyToManyField(
        Skill, blank=True, related_name="cards", help_text="Any one of these will do."
    )
    access = models.ForeignKey(Access, on_delete=models.SET_NULL, null=True, blank=True, related_name="cards")
    access_group = models.CharField(
        max_length=40, blank=True, help_text="Cards with the same word share one opening."
    )
    place = models.ForeignKey(Place, on_delete=models.SET_NULL, null=True, blank=True, related_name="cards")
    tools = models.ManyToManyField(SpecialTool, blank=True, related_name="cards")
    after = models.ManyToManyField(
        "self", symmetrical=False, blank=True, related_name="before", help_text="Needs these done first."
    )
    measures = models.ManyToManyField(
        "maintenance.Measure",
        blank=True,
        related_name="cards",
        help_text="Readings wanted before this job is handed in.",
    )
    needs_functional_test = models.BooleanField(default=True)
    needs_road_test = models.BooleanField(default=False)
    second_area = models.CharField(
        "second signature for",
        max_length=20,
        choices=InspectArea.choices,
        blank=True,
        help_text="Safety work is passed by another authorised person.",
    )
    needs_consent = models.BooleanField("needs the curator's consent", default=False)
    proposal = models.TextField("what is proposed for the fabric", blank=True)
    alternatives = models.TextField(
        "what else could be done", blank=True, help_text="Clean, adjust, repair, copy, replace, leave."
    )
    reversible = models.CharField("can it be undone", max_length=6, choices=Reversible.choices, blank=True)
    evidence = models.CharField("what evidence is lost or covered", max_length=300, blank=True)
    consent_answer = models.CharField(max_length=3, choices=[("yes", "Yes"), ("no", "No")], blank=True)
    consent_words = models.TextField(blank=True)
    consent_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    consent_at = models.DateTimeField(null=True, blank=True)
    second = models.ForeignKey(
        Person, on_delete=models.SET_NULL, null=True, blank=True, related_name="+",
        verbose_name="second person", help_text="Who stands by at work that nobody does alone.",
    )  # fmt: skip
    recheck = models.CharField(
        "to be checked again after it has run", max_length=120, blank=True,
        help_text="Such as the wheel nuts. Passing this job asks for it by itself.",
    )  # fmt: skip
    recheck_km = models.PositiveSmallIntegerField("within so many km", null=True, blank=True)
    outside_on = models.DateField("outside visit on", null=True, blank=True)
    outside_who = models.CharField(max_length=120, blank=True)
    drying_hours = models.PositiveSmallIntegerField("hours to cure, dry or cool", default=0)
    voids_readings = models.BooleanField("a repair: voids the matching reading or inspection", default=True)
    removes_original = models.BooleanField("takes off an original part", default=False)
    original_label = models.CharField("label number of the original part kept", max_length=40, blank=True)
    original_shelf = models.CharField("shelf of the original part kept", max_length=60, blank=True)
    counts_from = models.DateTimeField(
        "tests and signatures count from",
        null=True,
        blank=True,
        help_text="Set when a finished job is opened again.",
    )
    taken_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="taken_cards"
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField("stripping began", null=True, blank=True)
    refit_at = models.DateTimeField("refit done", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(
        max_length=20,
        blank=True,
        choices=[
            ("done", "Done, nothing left over"),
            ("limit", "Done, a limit is needed"),
            ("not run", "Not done, must not run"),
            ("as found", "Put back as found"),
        ],
    )
    outcome_words = models.TextField("work done, cause found", blank=True)
    found_on = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="spawned"
    )
    created_at = models.DateTimeField(default=timezone.now)
    touched_at = models.DateTimeField(default=timezone.now)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["serial"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["vehicle", "state"]),
            models.Index(fields=["taken_by", "state"]),
        ]

    def __str__(self) -> str:
        return f"{self.serial} {self.title}"

    @property
    def is_open(self) -> bool:
        return self.state in OPEN_STATES

    @property
    def is_stripped(self) -> bool:
        return self.opened_at is not None and self.refit_at is None

    def clean(self) -> None:
        hours = [self.hours_best, self.hours_usual, self.hours_bad]
        given = [value for value in hours if value is not None]
        if given and (self.hours_usual is None or len(given) == 2):
            raise ValidationError(
                {"hours_usual": "Give best, usual and bad hours, or the usual alone, or none."}
            )
        if len(given) == 3 and not given[0] <= given[1] <= given[2]:
            raise ValidationError(
                {"hours_usual": f"Best, usual, bad must rise: {given[0]}, {given[1]}, {given[2]} do not."}
            )
        if self.state == CardState.HELD and not self.held_for:
            raise ValidationError({"held_for": "Say what it is held for."})


class JobStep(models.Model):
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="steps")
    order = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=300)
    source = models.CharField(max_length=160, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["card", "order"]
        constraints = [models.UniqueConstraint(fields=["card", "order"], name="one_step_a_number")]

    def __str__(self) -> str:
        return f"{self.order} {self.text}"


class StripItem(models.Model):
    """One thing taken off: numbered, counted, where it lies; and whether it is back."""

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="strip_items")
    number = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=160)
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    tray = models.CharField("bag or tray", max_length=40, blank=True)
    marks = models.CharField("witness marks, shims by position", max_length=200, blank=True)
    renew = models.CharField("lockwire, split pin or gasket to renew", max_length=120, blank=True)
    torque = models.CharField(max_length=60, blank=True)
    off_at = models.DateTimeField(default=timezone.now)
    off_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    back_at = models.DateTimeField(null=True, blank=True)
    back_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    not_back_reason = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering = ["card", "number"]
        constraints = [models.UniqueConstraint(fields=["card", "number"], name="one_strip_number")]

    def __str__(self) -> str:
        return f"{self.number} {self.what}"


class JobPhoto(models.Model):
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="card_photos")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="card_uses")
    item = models.ForeignKey(
        StripItem, on_delete=models.SET_NULL, null=True, blank=True, related_name="photos"
    )
    moment = models.CharField(
        max_length=10,
        choices=[("as found", "As found"), ("as left", "As left"), ("note", "Note")],
        default="note",
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.card} {self.moment}"


class JobTest(models.Model):
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="tests")
    kind = models.CharField(max_length=12, choices=TestKind.choices)
    passed = models.BooleanField()
    words = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {'passed' if self.passed else 'failed'}"


class JobSignature(models.Model):
    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="signatures")
    kind = models.CharField(max_length=20, choices=SignatureKind.choices)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="signatures")
    area = models.CharField(max_length=20, choices=InspectArea.choices, blank=True)
    at = models.DateTimeField(default=timezone.now)
    proof = models.CharField(max_length=20, default="sign-in")
    words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.person}"


class WorkLog(models.Model):
    """Hours at the bench on a card. One entry a person and stretch."""

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="hours")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="hours")
    day = models.DateField()
    hours = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        validators=[MinValueValidator(Decimal("0.05")), MaxValueValidator(Decimal(24))],
    )
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["day", "pk"]

    def __str__(self) -> str:
        return f"{self.hours} h {self.person}"


class LeaveSafe(models.Model):
    """Written when somebody stops for the day: how it stands, where the parts are, what comes next."""

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="left_safe")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    state_of_strip = models.TextField()
    parts_where = models.CharField(max_length=200)
    next_step = models.CharField(max_length=200)

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"{self.card} left safe {self.at:%d %b}"


class CautionRead(models.Model):
    """Cautions acknowledged once per person, card and work day."""

    card = models.ForeignKey(JobCard, on_delete=models.CASCADE, related_name="cautions_read")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["card", "person", "day"], name="cautions_once_a_day")]

    def __str__(self) -> str:
        return f"{self.person} read the cautions of {self.card}"
