"""Rows for tests, as small as they can be. Where a test is about a service, build through the service instead."""

from tests.factories.fleet import (
    CompetenceFactory,
    MeterFactory,
    MuseumFactory,
    PersonFactory,
    VehicleFactory,
)
from tests.factories.maintenance import (
    CardFactory,
    DefectFactory,
    DeferralFactory,
    InspectionFactory,
    MeasureFactory,
    PartNeedFactory,
)

__all__ = [
    "CardFactory",
    "CompetenceFactory",
    "DefectFactory",
    "DeferralFactory",
    "InspectionFactory",
    "MeasureFactory",
    "MeterFactory",
    "MuseumFactory",
    "PartNeedFactory",
    "PersonFactory",
    "VehicleFactory",
]
