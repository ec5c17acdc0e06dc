"""A brake fault with its job and its sheet."""

from types import SimpleNamespace

import pytest

from maintenance.services.which_part import which_open
from tests.factories import CardFactory, DefectFactory
from tests.maintenance.desk.conftest import system

# The published worked case: what each test gave.
RUN = {
    "T1": "alike",
    "T2": "offside cool",
    "T4": "firm",
    "T3": "alike",
    "T5": "good",
    "T6": "narrow contact band",
    "T7": "more than 0.5 mm apart",
}


@pytest.fixture
def brakes(vehicle, cast, museum):
    defect = DefectFactory(vehicle=vehicle, subsystem=system(vehicle, "BRK"), title="Pulls to the left")
    card = CardFactory(
        vehicle=vehicle,
        subsystem=system(vehicle, "BRK"),
        title="Brakes pull",
        defects=[defect],
        state="booked in",
    )
    sheet = which_open(by=cast.mechanic, vehicle=vehicle, template="brakes-pull", card=card, defect=defect)
    return SimpleNamespace(vehicle=vehicle, defect=defect, card=card, sheet=sheet)
