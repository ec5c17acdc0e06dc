"""Name the first administrator from the command line; prints a one-time code, so that no password is typed there."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from fleet.errors import Conflict
from fleet.services.first import first_administrator
from fleet.services.people import CODE_DAYS, one_time_code


class Command(BaseCommand):
    help = "Lay down the museum and its first administrator. Refuses once there is anybody."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--museum", required=True, help="name of the museum")
        parser.add_argument("--name", required=True, help="the administrator's name")
        parser.add_argument("--username", required=True, help="their sign-in name")
        parser.add_argument("--email", default="", help="their e-mail, if letters are to reach them")
        parser.add_argument("--time-zone", default="Europe/London", help="such as Europe/London")
        parser.add_argument("--distances", choices=["km", "mile"], default="km")
        parser.add_argument("--pressures", choices=["bar", "psi"], default="bar")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            person = first_administrator(
                museum=options["museum"], time_zone=options["time_zone"], name=options["name"],
                username=options["username"], email=options["email"],
                distance_unit=options["distances"], pressure_unit=options["pressures"],
            )  # fmt: skip
        except Conflict as trouble:
            raise CommandError(str(trouble)) from trouble
        except ValidationError as trouble:
            raise CommandError(" ".join(trouble.messages)) from trouble
        code = one_time_code(by=person, person=person)
        self.stdout.write(f"{person.name} is the administrator.")
        self.stdout.write(f"Sign-in name: {person.username}")
        self.stdout.write(f"One-time code: {code}")
        self.stdout.write(f"It is good for {CODE_DAYS} days and asks for a password of your own.")
