import datetime as dt
from decimal import Decimal

import factory
from django.utils import timezone
from factory.django import DjangoModelFactory

from maintenance.enums import DefectState, InspectionKind, Judgement
from maintenance.models import Defect, DefectEffect, Deferral, Inspection, JobCard, Measure, PartNeed
from tests.factories.fleet import VehicleFactory


class DefectFactory(DjangoModelFactory):
    """Assessed 3C when given `effects={"START": "reduced"}`; else only reported."""

    class Meta:
        model = Defect
        skip_postgeneration_save = True

    serial = factory.Sequence(lambda n: f"90/{n:03d}")
    vehicle = factory.SubFactory(VehicleFactory)
    title = "Starts badly when hot"

    @factory.post_generation
    def effects(self, create, extracted, **kwargs):
        if not extracted:
            return
        for function, effect in extracted.items():
            DefectEffect.objects.create(defect=self, function=function, effect=effect)
        self.severity, self.probability = self.severity or 3, self.probability or "C"
        self.state = DefectState.ASSESSED
        self.save()


class CardFactory(DjangoModelFactory):
    """A bare job: no tests, no second signature, unless asked."""

    class Meta:
        model = JobCard
        skip_postgeneration_save = True

    serial = factory.Sequence(lambda n: f"91/{n:03d}")
    vehicle = factory.SubFactory(VehicleFactory)
    title = "Renew the fan belt"
    needs_functional_test = False

    @factory.post_generation
    def defects(self, create, extracted, **kwargs):
        if extracted:
            self.defects.set(extracted)


class DeferralFactory(DjangoModelFactory):
    class Meta:
        model = Deferral

    defect = factory.SubFactory(DefectFactory, effects={"START": "reduced"})
    severity_without = 3
    probability_without = "C"
    severity_with = 3
    probability_with = "D"
    reason = "Parts are on order."
    signed_on = factory.LazyFunction(timezone.localdate)
    ends_on = factory.LazyFunction(lambda: timezone.localdate() + dt.timedelta(days=30))


class InspectionFactory(DjangoModelFactory):
    class Meta:
        model = Inspection

    vehicle = factory.SubFactory(VehicleFactory)
    kind = InspectionKind.BRAKE_READING
    name = "Brake performance reading"
    interval_days = 365
    due_on = factory.LazyFunction(lambda: timezone.localdate() + dt.timedelta(days=100))


class MeasureFactory(DjangoModelFactory):
    class Meta:
        model = Measure

    vehicle = factory.SubFactory(VehicleFactory)
    system = "STE"
    name = "Free play at the rim"
    unit = "mm"
    judgement = Judgement.MAX
    high = Decimal(30)
    source = "house rule"


class PartNeedFactory(DjangoModelFactory):
    class Meta:
        model = PartNeed

    name = "Fan belt"
    card = factory.SubFactory(CardFactory)
    vehicle = factory.SelfAttribute("card.vehicle")
