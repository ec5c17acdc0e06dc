import factory
from factory.django import DjangoModelFactory

from fleet.enums import CompetenceKind, InspectArea, MeterKind
from fleet.models import Competence, Meter, Museum, Person, Subsystem, Vehicle, VehicleKind
from fleet.system_template import rows_for

PASSWORD = "lamp oil and brass"


class MuseumFactory(DjangoModelFactory):
    class Meta:
        model = Museum
        django_get_or_create = ("name",)

    name = "Tollmarsh Sheds"


class PersonFactory(DjangoModelFactory):
    class Meta:
        model = Person
        skip_postgeneration_save = True

    code = factory.Sequence(lambda n: f"X{n:03d}")
    username = factory.LazyAttribute(lambda person: person.code.lower())
    name = factory.Sequence(lambda n: f"Asta Finch {n}")
    password = factory.django.Password(PASSWORD)


class VehicleFactory(DjangoModelFactory):
    """With its systems, unless `systems=False`."""

    class Meta:
        model = Vehicle
        skip_postgeneration_save = True

    code = factory.Sequence(lambda n: f"T{n:03d}")
    number = factory.Sequence(lambda n: f"Q {n:03d}")
    name = factory.Sequence(lambda n: f"Thistle {n}")
    kind = VehicleKind.LORRY

    @factory.post_generation
    def systems(self, create, extracted, **kwargs):
        if extracted is False:
            return
        made = {}
        for row in rows_for(self.kind, is_steam=self.is_steam, is_tracked=self.is_tracked, lifts=self.lifts):
            made[row.code] = Subsystem.objects.create(
                vehicle=self,
                code=row.code,
                name=row.name,
                parent=made.get(row.parent),
                serves=list(row.serves),
                hazards=list(row.hazards),
                order=row.order,
            )


class MeterFactory(DjangoModelFactory):
    class Meta:
        model = Meter

    vehicle = factory.SubFactory(VehicleFactory)
    kind = MeterKind.HOURS


class CompetenceFactory(DjangoModelFactory):
    class Meta:
        model = Competence

    person = factory.SubFactory(PersonFactory)
    kind = CompetenceKind.INSPECT
    area = InspectArea.BRAKES
