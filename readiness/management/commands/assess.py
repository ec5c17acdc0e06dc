"""`manage.py assess EVENT [--at "YYYY-MM-DD HH:MM"] [--json]`: every entry's standing, and why."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from readiness.models import Event
from readiness.services import assessing
from readiness.services.what_if import NotUnderstood, what_if
from readiness.snapshot.rows import museum_row

FORMATS = ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d")


class Command(BaseCommand):
    help = "Judge every entry of an event: standing, reasons, chance, what holds it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("event", help="The event's code, such as HWW.")
        parser.add_argument(
            "--at",
            help='The clock of the judgement at the museum, such as "2027-05-01 08:00". When left out, what the board says now.',
        )
        parser.add_argument(
            "--what-if",
            action="append",
            metavar="CHANGE",
            help='Try a change and print only what moves, such as "stand-down V04". May be given several times.',
        )
        parser.add_argument("--json", action="store_true", help="Print everything as JSON.")

    def handle(self, *args: Any, **options: Any) -> None:
        event = Event.objects.filter(code__iexact=options["event"]).first()
        if event is None:
            known = ", ".join(Event.objects.values_list("code", flat=True)) or "none yet"
            raise CommandError(f"No event has the code {options['event']}. Known: {known}.")
        if options["what_if"]:
            self.what_if(
                options["what_if"], moment(options["at"]) if options["at"] else None, plain=options["json"]
            )
            return
        try:
            at = moment(options["at"]) if options["at"] else None
            result = assessing.assess_event(event, at=at) if at else assessing.said_now(event)
        except ValueError as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            self.stdout.write(json.dumps(result, indent=2, ensure_ascii=False))
            return
        self.stdout.write(
            f"{result['event']['name']}, judged {result['judged_at']}, freeze {result['event']['freeze']}"
        )
        for e in result["entries"]:
            chance = f" {e['percent']} in 100" if e["percent"] is not None else ""
            flags = f"  [{', '.join(e['flags'])}]" if e["flags"] else ""
            self.stdout.write(
                f"{e['day']} {e['slot']:4} {e['vehicle']:5} {e['name']:16} {e['word']}{chance}{flags}"
            )
            for reason in e["reasons"]:
                if reason["weight"] in {"down", "barred", "open", "unjudged", "limit"}:
                    self.stdout.write(
                        f"      {reason['words']}" + (f" -> {reason['act']}" if reason["act"] else "")
                    )

    def what_if(self, lines: list[str], at: dt.datetime | None, *, plain: bool) -> None:
        try:
            answer = what_if(lines, at=at)
        except NotUnderstood as error:
            raise CommandError(str(error)) from error
        if plain:
            self.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False))
            return
        for m in answer["moved"]:
            old, new = (
                f"{x['word']}" + (f" {x['percent']}" if x["percent"] is not None else "")
                for x in (m["from"], m["to"])
            )
            self.stdout.write(f"{m['day']} {m['slot']:4} {m['vehicle']:5} {m['name']:16} {old} to {new}")
        self.stdout.write("Nothing else moves." if answer["moved"] else "Nothing moves.")


def moment(text: str) -> dt.datetime:
    """Read a moment in the museum's own time.

    Raises:
        CommandError: not a date and time.
    """
    from zoneinfo import ZoneInfo

    for form in FORMATS:
        try:
            naive = dt.datetime.strptime(text.strip(), form)  # noqa: DTZ007
        except ValueError:
            continue
        return timezone.make_aware(naive, ZoneInfo(museum_row().time_zone))
    raise CommandError(f"--at {text!r} is not a moment. Write it as 2027-05-01 08:00.")
