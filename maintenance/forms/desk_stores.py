"""Parts and special tools at the desk and at the goods-in bench."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.models import Vehicle
from maintenance.enums import OPEN_STATES, NeedState
from maintenance.forms.desk import DayField, DeskForm, people, words_field
from maintenance.models import JobCard, PartNeed, SpecialTool, Supplier

BEGINS_AS = [
    (state.value, state.label)
    for state in (
        NeedState.NOT_ORDERED,
        NeedState.ON_SHELF,
        NeedState.ON_ORDER,
        NeedState.OUT_FOR_REPAIR,
        NeedState.UNKNOWN,
    )
]
SETTLED = [
    ("wanted", "It is needed; not ordered yet"),
    ("unknown", "Not known yet"),
    ("not needed", "Not needed"),
]


class CardChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    """An open job, with its vehicle."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(JobCard.objects.filter(state__in=OPEN_STATES).select_related("vehicle"), **kwargs)

    def label_from_instance(self, obj: JobCard) -> str:
        return f"{obj.vehicle.painted}: {obj.serial} {obj.title}"


class PartForm(DeskForm):
    """Something that a job, or a vehicle, needs."""

    act = "desk.part"
    name = forms.CharField(label="Part", max_length=120)
    card = CardChoice(label="For the job", required=False, empty_label="No job yet")
    vehicle = forms.ModelChoiceField(
        Vehicle.objects.order_by("number"),
        label="For the vehicle",
        required=False,
        empty_label="As the job says",
    )
    quantity = forms.IntegerField(label="How many", min_value=1, max_value=999, initial=1)
    state = forms.ChoiceField(label="How it stands", choices=BEGINS_AS, initial=NeedState.NOT_ORDERED.value)
    supplier = forms.CharField(
        label="Supplier", max_length=80, required=False, help_text="A new name is added to the list."
    )
    lead_days = forms.IntegerField(
        label="Days from order to shelf", min_value=0, max_value=2000, required=False
    )
    ordered_on = DayField(label="Ordered on", required=False)
    promised_on = DayField(label="Promised for", required=False)
    bin = forms.CharField(label="Bin or shelf", max_length=40, required=False)
    note = forms.CharField(label="Note", max_length=200, required=False)

    def words(self) -> dict[str, Any]:
        return {name: value for name, value in super().words().items() if name != "expected_version"}


class OrderForm(DeskForm):
    supplier = forms.CharField(label="Supplier", max_length=80, required=False)
    promised_on = DayField(label="Promised for")
    ordered_on = DayField(label="Ordered on", required=False, help_text="Empty: today.")
    out_for_repair = forms.BooleanField(label="Ours, sent out for repair", required=False)

    def __init__(self, *args: Any, row: PartNeed, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "supplier": row.supplier.name if row.supplier else "",
            **(kwargs.get("initial") or {}),
        }
        super().__init__(*args, row=row, **kwargs)


class PromiseForm(DeskForm):
    promised_on = DayField(label="Now promised for")
    note = forms.CharField(label="Who said so", max_length=200, required=False)


class ReceiveForm(DeskForm):
    bin = forms.CharField(label="Bin or shelf", max_length=40)
    received_on = DayField(label="Came on", required=False, help_text="Empty: today.")


class ReserveForm(DeskForm):
    card = CardChoice(label="Keep it for", empty_label=None)


class SettleForm(DeskForm):
    answer = forms.ChoiceField(label="Is it needed?", choices=SETTLED, widget=forms.RadioSelect)
    note = forms.CharField(label="What was seen", max_length=200, required=False)


class RobForm(DeskForm):
    """Taken off one vehicle for another: written on both."""

    act = "desk.rob"
    name = forms.CharField(label="Part", max_length=120)
    donor = forms.ModelChoiceField(Vehicle.objects.order_by("number"), label="Taken from", empty_label=None)
    card = CardChoice(label="For the job", empty_label=None)
    bin = forms.CharField(label="Laid down in bin or shelf", max_length=40)
    reason = words_field("Why, and when it comes back", longest=180)

    def words(self) -> dict[str, Any]:
        return {name: value for name, value in super().words().items() if name != "expected_version"}


class ToolForm(DeskForm):
    name = forms.CharField(label="Tool", max_length=80)
    home = forms.CharField(label="Its home", max_length=80, required=False)
    keeper = forms.ModelChoiceField(people(), label="Keeper", required=False, empty_label="No one")
    on_loan_to = forms.CharField(
        label="Who has it now", max_length=80, required=False, help_text="Empty: it is at home."
    )
    back_on = DayField(label="Due back", required=False)
    calibrated_until = DayField(label="Calibrated until", required=False)

    def __init__(self, *args: Any, tool: SpecialTool | None, **kwargs: Any) -> None:
        names = ("name", "home", "on_loan_to", "back_on", "calibrated_until")
        if tool is not None:
            kwargs["initial"] = {**{name: getattr(tool, name) for name in names}, "keeper": tool.keeper_id}
        super().__init__(*args, **kwargs)


def supplier_names() -> list[str]:
    return list(Supplier.objects.values_list("name", flat=True))
