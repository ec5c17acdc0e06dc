"""What may stand in one cell, going in and coming out. No Django here: plain text to plain values."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from zoneinfo import ZoneInfo

NOTHING_SIGN = "-"
"""Written in a cell to empty it; a cell left empty says nothing and changes nothing."""
NOTHING = "\x00"
"""The same once read: no text can hold it, so a text that is a hyphen stays apart."""

MIDDAY = dt.time(12)
YEARS = (1750, 2200)
UNSAFE_START = frozenset("=+-@\t\r#'")
NUMBER = re.compile(r"-?\d+(\.\d+)?")
_SPACES = dict.fromkeys(map(ord, " \u00a0\u2007\u2009\u202f"))
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(\.\d{1,6})?)?")
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_ANCHORED = re.compile(r"(?P<code>[A-Za-z0-9_-]+?)\s*(?P<days>[+-]\s*\d+)?")


class CellError(Exception):
    """A cell that cannot be read: what is wrong, and what would be right."""

    def __init__(self, words: str, right: str = "") -> None:
        super().__init__(words)
        self.words = words
        self.right = right


@dataclass(kw_only=True, slots=True)
class Calendar:
    """The museum's zone, and the first day of each event by its code in lower case."""

    zone: ZoneInfo
    anchors: dict[str, dt.date] = field(default_factory=dict)


def norm(text: str) -> str:
    """How two names are compared: without regard to capitals and to double spaces."""
    return " ".join(text.split()).casefold()


def nearest(word: str, known: Iterable[str]) -> str:
    """The known name that looks most like the word, or nothing when none does."""
    by_norm = {norm(name): name for name in known}
    wanted = norm(word)
    found = difflib.get_close_matches(wanted, by_norm, n=1, cutoff=0.5)
    if not found:
        found = [name for name in by_norm if wanted and (name.startswith(wanted) or wanted.startswith(name))][
            :1
        ]
    return by_norm[found[0]] if found else ""


def safe(text: str) -> str:
    """A cell that no spreadsheet takes for a formula. Plain numbers, below nought too, stay numbers."""
    if text and text[0] in UNSAFE_START and not NUMBER.fullmatch(text):
        return "'" + text
    return text


def unsafe(text: str) -> str:
    """The cell as it was before `safe`."""
    if len(text) > 1 and text[0] == "'" and text[1] in UNSAFE_START:
        return text[1:]
    return text


def split_list(text: str) -> list[str]:
    r"""The parts between semicolons; a semicolon inside a part is written as \;."""
    parts, current, escaped = [], "", False
    for letter in text:
        if escaped:
            current, escaped = current + letter, False
        elif letter == "\\":
            escaped = True
        elif letter == ";":
            parts.append(current)
            current = ""
        else:
            current += letter
    parts.append(current)
    return [part.strip() for part in parts if part.strip()]


def join_list(parts: Iterable[str]) -> str:
    return "; ".join(part.replace("\\", "\\\\").replace(";", "\\;") for part in parts)


def read_whole(text: str) -> int:
    bare = text.translate(_SPACES)
    if not re.fullmatch(r"-?\d+(\.0+)?", bare):
        raise CellError(f"'{text}' is no whole number", "12")
    return int(bare.split(".")[0])


def read_amount(text: str) -> Decimal:
    bare = text.translate(_SPACES)
    if re.fullmatch(r"-?\d+,\d+", bare):
        raise CellError(f"'{text}' has a comma", bare.replace(",", "."))
    try:
        value = Decimal(bare)
    except InvalidOperation:
        raise CellError(f"'{text}' is no number", "1.5") from None
    if not value.is_finite():
        raise CellError(f"'{text}' is no number", "1.5")
    return value


def write_amount(value: Decimal) -> str:
    plain = f"{value:f}"
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return "0" if plain in {"", "-0"} else plain


_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"no", "n", "false", "0"})


def read_yes(text: str) -> bool:
    word = norm(text)
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise CellError(f"'{text}' is neither yes nor no", "yes")


def read_clock(text: str) -> dt.time:
    found = _CLOCK.fullmatch(text.strip())
    if found:
        try:
            micro = int((found[4] or ".0")[1:].ljust(6, "0"))
            return dt.time(int(found[1]), int(found[2]), int(found[3] or 0), micro)
        except ValueError:
            pass
    raise CellError(f"'{text}' is no time of day", "14:15")


def write_clock(value: dt.time) -> str:
    return value.isoformat() if value.second or value.microsecond else f"{value:%H:%M}"


def _iso_day(text: str) -> dt.date:
    try:
        return _sensible(dt.date.fromisoformat(text), text)
    except ValueError:
        raise CellError(f"'{text}' is no day of the calendar", "2027-05-01") from None


def _sensible(day: dt.date, text: str) -> dt.date:
    """A year that no vehicle of ours can mean is a slip of the pen, and sums with it run out of the calendar."""
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise CellError(f"'{text}' lies outside {YEARS[0]} to {YEARS[1]}", "2027-05-01")
    return day


def _anchored(text: str, anchors: Mapping[str, dt.date]) -> tuple[dt.date, str]:
    """A day counted from an event's first day, and the clock time that stands behind it."""
    head, _, last = text.rpartition(" ")
    clock = last if head and _CLOCK.fullmatch(last) else ""
    head = head if clock else text
    if norm(head) in anchors:  # a code that itself ends in -12
        return anchors[norm(head)], clock
    found = _ANCHORED.fullmatch(head)
    if not found:
        raise CellError(f"'{text}' is no day", "2027-05-01, or a code and days such as HWW-35")
    code = norm(found["code"])
    days = (found["days"] or "").replace(" ", "")
    if code not in anchors:
        close = nearest(code, anchors)
        hint = f"{close.upper()}{days}" if close else "2027-05-01"
        raise CellError(f"'{text}' is no day: no event has the code {found['code']}", hint)
    try:
        return _sensible(anchors[code] + dt.timedelta(days=int(days or 0)), text), clock
    except OverflowError:
        raise CellError(f"'{text}' lies outside the calendar", "HWW-35") from None


def read_day(text: str, calendar: Calendar) -> dt.date:
    text = " ".join(text.split())
    if _ISO_DAY.fullmatch(text[:10]) and text[10:] in {"", " 00:00", "T00:00:00"}:
        return _iso_day(text[:10])
    day, clock = _anchored(text, calendar.anchors) if text else (None, "")
    if day is None or clock:
        raise CellError(f"'{text}' is a time, and a day is asked for", "2027-05-01")
    return day


def at(calendar: Calendar, local: dt.datetime) -> dt.datetime:
    """A wall-clock time in the museum's zone, as UTC.

    In the hour that the autumn clock shows twice, times of two zones are never equal in Python; in UTC they are.
    """
    return local.replace(tzinfo=calendar.zone).astimezone(dt.UTC)


def read_moment(text: str, calendar: Calendar) -> dt.datetime:
    """A day and a time in the museum's zone. Without a time it is midday; an offset written behind it wins."""
    text = " ".join(text.split())
    if _ISO_DAY.fullmatch(text[:10]):
        _iso_day(text[:10])
        try:
            moment = dt.datetime.fromisoformat(text.replace(" ", "T", 1))
        except ValueError:
            raise CellError(f"'{text}' is no day and time", "2027-05-01 18:00") from None
        if len(text) == 10:
            moment = moment.replace(hour=MIDDAY.hour)
        return at(calendar, moment) if moment.tzinfo is None else moment.astimezone(dt.UTC)
    day, clock = _anchored(text, calendar.anchors)
    return at(calendar, dt.datetime.combine(day, read_clock(clock) if clock else MIDDAY))


def write_moment(value: dt.datetime, zone: ZoneInfo) -> str:
    local = value.astimezone(zone)
    plain = local.replace(tzinfo=None, fold=0)
    text = plain.isoformat(sep=" ", timespec="auto" if plain.second or plain.microsecond else "minutes")
    if (
        plain.replace(tzinfo=zone).utcoffset() != local.utcoffset()
    ):  # the hour that the autumn clock shows twice
        return text + local.isoformat()[-6:]
    return text


RATING = re.compile(r"([1-4])\s*([A-Fa-f])")


def read_rating(text: str) -> tuple[int, str]:
    found = RATING.fullmatch(text.strip())
    if not found:
        raise CellError(f"'{text}' is no rating", "2C (a figure 1 to 4, then a letter A to F)")
    return int(found[1]), found[2].upper()
