"""When a session starts: a date and time, with an offset, with a zone's name, or as the clock on the wall shows it."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from ampstead.errors import FieldError, clipped

# A plus sign of an address that was not escaped arrives as a blank.
_START = re.compile(
    r"(?P<date>[0-9]{4}-[0-9]{2}-[0-9]{2})[T ](?P<time>[0-9]{2}:[0-9]{2}(?::[0-9]{2})?)"
    r"(?:(?P<utc>Z)|(?P<sign>[-+ ])(?P<hours>[0-9]{2}):?(?P<minutes>[0-9]{2}))?"
    r"(?: ?\[?(?P<zone>[A-Za-z][A-Za-z0-9_+-]*(?:/[A-Za-z0-9_+-]+){0,2})\]?)?",
    re.IGNORECASE,
)
LIKE = '"2026-04-18T10:00+02:00" or "2026-04-18T10:00 Europe/Berlin"'


@dataclass(frozen=True)
class Clock:
    """The start of a session as an instant, and what clocks on the wall show from it on."""

    start: datetime

    def shows(self, seconds: float) -> datetime:
        """The clock after so many seconds; summer time begins and ends within the session too."""
        if self.start.tzinfo is None:
            return self.start + timedelta(seconds=seconds)
        return (self.start.astimezone(UTC) + timedelta(seconds=seconds)).astimezone(self.start.tzinfo)

    def words(self, seconds: float) -> str:
        """``10:42``, to the nearest minute; the date before it on another day."""
        shown = self.shows(60.0 * round(seconds / 60.0))
        day = "" if shown.date() == self.start.date() else f"{shown.day} {_MONTHS[shown.month - 1]} "
        return f"{day}{shown:%H:%M}"


_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip


def clock(start: str) -> Clock:
    """A start as written.

    Raises
    ------
    ValueError
        If it cannot be read, names no known zone, or tells a time that clocks skipped on that day.
    """
    found = _START.fullmatch(start.strip())
    if found is None:
        raise ValueError(f"cannot be read: write a date and a time, like {LIKE}")
    try:
        told = datetime.fromisoformat(f"{found['date']}T{found['time']}")
    except ValueError:
        raise ValueError(f"is no date and time: write it like {LIKE}") from None
    if not 1970 <= told.year <= 9000:
        raise ValueError(f"is too far away: write it like {LIKE}")
    offset = _offset(found)
    if found["zone"] is None or found["zone"].upper() == "Z":
        utc = found["utc"] or found["zone"]
        return Clock(told.replace(tzinfo=UTC) if utc else offset_of(told, offset))
    try:
        zone = ZoneInfo(found["zone"])
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(f"names no known time zone: write it like {LIKE}") from None
    if offset is not None or found["utc"]:
        return Clock((told - (offset or timedelta())).replace(tzinfo=UTC).astimezone(zone))
    local = told.replace(tzinfo=zone)
    if local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != told:
        raise ValueError(f"is a time that clocks in {found['zone']} skip on that day: write it with its offset")
    return Clock(local)


def offset_of(told: datetime, offset: timedelta | None) -> datetime:
    """A time with an offset, or none."""
    from datetime import timezone

    return told if offset is None else told.replace(tzinfo=timezone(offset))


def _offset(found: re.Match[str]) -> timedelta | None:
    if found["hours"] is None:
        return None
    size = timedelta(hours=int(found["hours"]), minutes=int(found["minutes"]))
    if size >= timedelta(hours=24) or int(found["minutes"]) > 59:
        raise ValueError(f"has no such offset: write it like {LIKE}")
    return -size if found["sign"] == "-" else size


def start_is_read(start: str | None) -> Iterator[FieldError]:
    """A start is a date and time."""
    if start is None:
        return
    try:
        clock(start)
    except ValueError as fault:
        yield FieldError("start", "out_of_range", f"start {fault}; {clipped(start)} was read")
