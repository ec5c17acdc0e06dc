"""`manage.py demo`: an invented museum whose event lies five weeks ahead, with sign-ins for everybody in it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet.models import Person, Vehicle
from readiness.demo.build import EVENT, build_demo, demo_saturday, demo_sign_in, set_sign_ins
from readiness.models import Event


class Command(BaseCommand):
    help = "Build the demo museum in an empty database; a second run keeps what was entered and prints the sign-ins."

    def handle(self, *args: Any, **options: Any) -> None:
        if Vehicle.objects.exists():
            if not Event.objects.filter(code=EVENT).exists():
                raise CommandError(
                    "This database holds a museum of its own. The demo goes into an empty one only."
                )
            people = list(Person.objects.filter(is_active=True).order_by("code"))
            self.stdout.write("The demo museum is here already; what was entered is kept.")
        else:
            saturday = demo_saturday(timezone.localdate())
            report = build_demo(saturday=saturday)
            people = set_sign_ins()
            self.stdout.write(
                f"Built the demo museum: {report.total.new} rows. Its event begins on Saturday {saturday:%d %B %Y}."
            )
        self.stdout.write("Sign in with one of these (made up, and known to all: for the demo only):")
        for person in people:
            password, pin = demo_sign_in(person)
            roles = ", ".join(person.roles) or "no role"
            self.stdout.write(f"  {person.username:10} {password:18} PIN {pin}   {person.name}, {roles}")
