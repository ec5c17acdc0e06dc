"""Write and send the reminders that are due; or say what would be sent."""

from __future__ import annotations

import argparse
import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fleet import mail
from readiness import digests
from readiness.queries.reminders import wall_clock
from readiness.services.digests import digests_send
from readiness.snapshot.rows import museum_row


class Command(BaseCommand):
    help = "Write the reminders that are due at this moment (or at --at) and send those that wait."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument(
            "--dry-run", action="store_true", help="Say what would be written; write and send nothing."
        )
        parser.add_argument(
            "--at", help="The museum's clock to go by, such as 2027-05-06T18:05. Default: now."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        zone = ZoneInfo(museum_row().time_zone)
        with timezone.override(zone):
            moment = self._moment(options["at"], zone)
            if options["dry_run"]:
                self._tell(moment)
                return
            made = digests.digests_write(moment)
            sent = digests_send(now=timezone.now())
            self.stdout.write(f"{len(made)} written, {sent} sent.")
            if made and not mail.can_send():
                self.stdout.write("No mail server is set (EMAIL_HOST): they wait in the record book.")

    def _moment(self, text: str | None, zone: ZoneInfo) -> dt.datetime:
        if not text:
            return timezone.now()
        try:
            found = dt.datetime.fromisoformat(text)
        except ValueError:
            raise CommandError(f"{text!r} is no moment. Write it such as 2027-05-06T18:05.") from None
        return found if found.tzinfo else found.replace(tzinfo=zone)

    def _tell(self, moment: dt.datetime) -> None:
        count = 0
        for letter in digests.letters(wall_clock(moment)):
            if not letter.lines:
                continue
            count += 1
            self.stdout.write(
                f"To {letter.person} <{letter.person.email or 'no address'}>: {letter.kind}, {letter.period}"
            )
            for line in letter.lines:
                self.stdout.write(f"  {line.words}")
        self.stdout.write(f"{count} would be written.")
