"""Signing in and what a person keeps for themselves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import ngettext

from fleet.forms.base import ActForm, SeenForm
from fleet.models import Person
from fleet.services.people import CODE_DAYS, code_is_stale

NAME = {"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
NEW = {"autocomplete": "new-password"}


class SignInForm(forms.Form):
    username = forms.CharField(label="Sign-in name", max_length=60, widget=forms.TextInput(attrs=NAME))
    password = forms.CharField(
        label="Password or one-time code", max_length=256, strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip
    person: Person | None = None

    def __init__(self, data: Any = None, *, request: HttpRequest) -> None:
        super().__init__(data)
        self.request = request

    def clean(self) -> dict[str, Any]:
        name, password = self.cleaned_data.get("username"), self.cleaned_data.get("password")
        if name and password:
            person = authenticate(self.request, username=name, password=password)
            if not isinstance(person, Person):
                raise ValidationError("That name and password do not belong together. Look at both again.")
            if code_is_stale(person, timezone.now()):
                raise ValidationError(
                    f"That code is more than {CODE_DAYS} days old. Ask the administrator for a new one."
                )
            self.person = person
        return self.cleaned_data


def check_again(form: forms.Form) -> None:
    new, again = form.cleaned_data.get("new"), form.cleaned_data.get("again")
    if new and again and new != again:
        form.add_error("again", "The two are not alike. Type the new password twice.")


class NewPasswordForm(ActForm):
    """Twice the new password; the service looks whether it is good enough."""

    new = forms.CharField(
        label="New password", max_length=256, strip=False, widget=forms.PasswordInput(attrs=NEW),
        help_text="At least 10 characters. Four unrelated words do well.",
    )  # fmt: skip
    again = forms.CharField(
        label="The same again", max_length=256, strip=False, widget=forms.PasswordInput(attrs=NEW)
    )

    def clean(self) -> dict[str, Any]:
        check_again(self)
        return self.cleaned_data

    def words(self) -> dict[str, Any]:
        return {"new": self.cleaned_data["new"]}


class PasswordForm(NewPasswordForm):
    old = forms.CharField(
        label="Your password now", max_length=256, strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip
    field_order = ("old", "new", "again")

    def __init__(self, data: Any = None, *, person: Person) -> None:
        super().__init__(data)
        self.person = person

    def clean_old(self) -> str:
        if not self.person.check_password(self.cleaned_data["old"]):
            raise ValidationError("That is not your password.")
        return str(self.cleaned_data["old"])


class PinForm(ActForm):
    pin = forms.CharField(
        label="Your PIN", required=False, max_length=12, strip=False,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="6 to 12 digits. With it you sign for another's work on their phone. Empty: the PIN is taken away.",
    )  # fmt: skip
    again = forms.CharField(
        label="The same again", required=False, max_length=12, strip=False,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        if self.cleaned_data.get("pin") != self.cleaned_data.get("again"):
            self.add_error("again", "The two are not alike. Type the PIN twice.")
        return self.cleaned_data

    def words(self) -> dict[str, Any]:
        return {"pin": self.cleaned_data["pin"]}


class ContactForm(SeenForm):
    email = forms.EmailField(
        label="E-mail", required=False, help_text="For reminders, and for a new password when you forget it."
    )
    telephone = forms.CharField(
        label="Telephone", required=False, max_length=40, widget=forms.TextInput(attrs={"type": "tel"})
    )

    def shown(self, row: Any) -> dict[str, Any]:
        return {"email": row.email, "telephone": row.telephone}


class ForgotForm(forms.Form):
    who = forms.CharField(
        label="Your e-mail address or sign-in name", max_length=254, widget=forms.TextInput(attrs=NAME)
    )


def days_words(seconds: int) -> str:
    """How long a link stays good, in words."""
    days = max(1, seconds // 86_400)
    return ngettext("%d day", "%d days", days) % days
