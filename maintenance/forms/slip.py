"""The fault slip: four short questions, the same with and without a sign-in."""

from __future__ import annotations

from typing import Any

from django import forms

from maintenance.forms.phone import RefusingForm, photo_field

DOES = [
    ("pulls", "Pulls to one side"),
    ("pedal", "Long or soft pedal"),
    ("noise", "Noise"),
    ("smell", "Smell or smoke"),
    ("leak", "Leak"),
    ("start", "Will not start"),
    ("hot", "Runs hot"),
    ("loose", "Loose or broken"),
    ("other", "Something else"),
]
MOVES = [("yes", "Yes"), ("no", "No"), ("unsure", "Not sure")]
STOPPED = [("yes", "Yes, I stopped"), ("no", "No, drove on")]
WHAT, STOP, MOVE = "What it does", "Stopped at once", "Safe to move"


class SlipForm(RefusingForm):
    does = forms.ChoiceField(
        label="What does it do?", choices=DOES, widget=forms.RadioSelect, required=False,
        error_messages={"invalid_choice": "Choose one of the answers."},
    )  # fmt: skip
    words = forms.CharField(
        label="Tell it in your words", required=False, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2, "placeholder": "What did you see, hear or smell?"}),
    )  # fmt: skip
    photo = photo_field("Take a photo")
    stopped = forms.ChoiceField(
        label="Did you stop?", choices=STOPPED, widget=forms.RadioSelect, required=False
    )
    move = forms.ChoiceField(
        label="Is it safe to move?", choices=MOVES, widget=forms.RadioSelect,
        error_messages={"required": "Say whether it is safe to move. If you do not know, press Not sure."},
    )  # fmt: skip
    name = forms.CharField(
        label="Your name",
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("does") and not (cleaned.get("words") or "").strip():
            raise forms.ValidationError(
                "Say what it does, or tell it in your words. One of the two is enough."
            )
        return cleaned

    @property
    def answers(self) -> dict[str, str]:
        """What was ticked, in words, for whoever assesses it."""
        said = {
            WHAT: dict(DOES).get(self.cleaned_data.get("does", ""), ""),
            STOP: dict(STOPPED).get(self.cleaned_data.get("stopped", ""), ""),
            MOVE: dict(MOVES).get(self.cleaned_data.get("move", ""), ""),
        }
        return {question: answer for question, answer in said.items() if answer}
