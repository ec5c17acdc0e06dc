"""The museum's own settings, and the page before there is anybody."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, ClassVar
from zoneinfo import available_timezones

from django import forms
from django.core.validators import RegexValidator

from fleet.forms.account import NAME, NewPasswordForm
from fleet.forms.base import SeenForm
from fleet.models import Museum

SHARES = ("turn_up_volunteer", "turn_up_staff", "near_share")


def zone_choices(now: str = "") -> list[tuple[str, str]]:
    """Places with a clock of their own; the one in use is kept whatever it is called."""
    areas = (
        "Africa/",
        "America/",
        "Antarctica/",
        "Asia/",
        "Atlantic/",
        "Australia/",
        "Europe/",
        "Indian/",
        "Pacific/",
    )
    names = {name for name in available_timezones() if name.startswith(areas)} | {"UTC"}
    return [(name, name.replace("_", " ")) for name in sorted(names | ({now} if now else set()))]


def whole(label: str, help_text: str, least: int, most: int) -> forms.IntegerField:
    return forms.IntegerField(label=label, help_text=help_text, min_value=least, max_value=most)


class MuseumForm(SeenForm):
    name = forms.CharField(label="Name of the museum", max_length=120, help_text="Stands on every print.")
    time_zone = forms.ChoiceField(
        label="Clock of", help_text="The nearest town on this list that keeps the same time."
    )
    distance_unit = forms.ChoiceField(label="Distances in", choices=[("km", "kilometres"), ("mile", "miles")])
    pressure_unit = forms.ChoiceField(label="Pressures in", choices=[("bar", "bar"), ("psi", "psi")])
    slip_note = forms.CharField(
        label="First line of every fault slip", required=False, max_length=200,
        help_text="Such as the yard telephone. Everybody who scans a tag reads it.",
    )  # fmt: skip
    likely_from = whole(
        "Likely from, in 100",
        "A vehicle with at least this chance of being fit in time is called Likely.",
        1,
        99,
    )
    doubtful_from = whole(
        "Doubtful from, in 100",
        "Between this and the figure above it is Doubtful; below this it is Unlikely.",
        1,
        99,
    )
    thin_at = whole(
        "Thin at, in 10",
        "A slot that has a vehicle this many times in 10 is Thin; under it the slot is Open.",
        1,
        10,
    )
    near_share = whole(
        "Near a limit, in 100",
        "A reading this close to its limit, of the limit itself, is called near.",
        0,
        100,
    )
    turn_up_volunteer = whole(
        "Volunteers come, in 100",
        "Of 100 days they mean to come. Each person may have a figure of their own.",
        0,
        100,
    )
    turn_up_staff = whole("Staff come, in 100", "Of 100 days they mean to come.", 0, 100)
    decision_days = whole(
        "Days that a decision takes", "How long the museum waits, as a rule, for a yes or no.", 0, 90
    )
    spare_days = whole(
        "Spare work days before the freeze", "Kept free by the plan, for what nobody foresaw.", 0, 30
    )
    event_check_days = whole(
        "Event checks from, days before", "From then on the board asks for each vehicle's event check.", 1, 60
    )
    change_over_minutes = whole(
        "Minutes between two slots",
        "What a driver or vehicle needs to change from one slot to the next.",
        0,
        240,
    )
    untouched_days = whole(
        "An untouched job speaks up after, days",
        "An opened job that nobody wrote on is brought up by then.",
        1,
        365,
    )
    keep_names_days = whole(
        "Names on fault slips kept for, days",
        "Then the name of a visitor is cleared; the fault stays.",
        1,
        3650,
    )

    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = (
        ("The museum", ("name", "time_zone", "distance_unit", "pressure_unit", "slip_note")),
        ("What the words mean", ("likely_from", "doubtful_from", "thin_at", "near_share")),
        ("People", ("turn_up_volunteer", "turn_up_staff", "decision_days")),
        ("Events and the plan", ("spare_days", "event_check_days", "change_over_minutes")),
        ("Reminders and names", ("untouched_days", "keep_names_days")),
    )

    def __init__(self, *args: Any, row: Museum, **kwargs: Any) -> None:
        super().__init__(*args, row=row, **kwargs)
        zone = self.fields["time_zone"]
        if isinstance(zone, forms.ChoiceField):
            zone.choices = zone_choices(row.time_zone)

    def shown(self, row: Any) -> dict[str, Any]:
        values = {name: getattr(row, name) for name in self.base_fields if name != "seen"}
        return {name: int(value * 100) if name in SHARES else value for name, value in values.items()}

    def words(self) -> dict[str, Any]:
        return {
            name: Decimal(value) / 100 if name in SHARES else value for name, value in super().words().items()
        }


class FirstForm(NewPasswordForm):
    """The museum's name, clock and units, and who looks after it."""

    museum = forms.CharField(label="Name of the museum", max_length=120)
    time_zone = forms.ChoiceField(
        label="Clock of", initial="Europe/London", help_text="The nearest town that keeps the same time."
    )
    distance_unit = forms.ChoiceField(label="Distances in", choices=[("km", "kilometres"), ("mile", "miles")])
    pressure_unit = forms.ChoiceField(label="Pressures in", choices=[("bar", "bar"), ("psi", "psi")])
    name = forms.CharField(
        label="Your name", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    username = forms.CharField(
        label="Your sign-in name", max_length=60, widget=forms.TextInput(attrs=NAME),
        validators=[RegexValidator(r"^[\w.@+-]+$", "Letters, digits and . @ + - _ only, no spaces.")],
    )  # fmt: skip
    email = forms.EmailField(label="Your e-mail", required=False)

    field_order = (
        "museum",
        "time_zone",
        "distance_unit",
        "pressure_unit",
        "name",
        "username",
        "email",
        "new",
        "again",
    )
    groups: ClassVar[Sequence[tuple[str, Sequence[str]]]] = (
        ("The museum", ("museum", "time_zone", "distance_unit", "pressure_unit")),
        ("Who looks after it", ("name", "username", "email", "new", "again")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone = self.fields["time_zone"]
        if isinstance(zone, forms.ChoiceField):
            zone.choices = zone_choices()

    def words(self) -> dict[str, Any]:
        words = {name: value for name, value in self.cleaned_data.items() if name not in {"new", "again"}}
        return {**words, "password": self.cleaned_data["new"]}
