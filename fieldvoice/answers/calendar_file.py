"""What is due as an iCalendar file (RFC 5545), for the calendar of a phone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from fieldvoice.answers.plans import Due
from fieldvoice.plain import hive_name


def calendar_text(dues: Sequence[Due], at: datetime) -> str:
    """All that has a day as whole-day events; what has none is left out.

    An event keeps its name from one export to the next, so a calendar updates it.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//fieldvoice//due//EN")
    calendar.add("version", "2.0")
    for due in dues:
        days = dated(due)
        if days is None:
            continue
        event = Event()
        event.add("uid", f"{due.id}-{due.row.uuid}@fieldvoice")
        event.add("dtstamp", at)
        event.add("dtstart", days[0])
        event.add("dtend", days[1] + timedelta(days=1))  # RFC 5545: the end is not part of it
        event.add("summary", f"{hive_name(due.hive)}, {due.yard}: {due.what}")
        event.add("description", f"{due.why}\n{due.reason}\n{due.source}\n{due.state}".strip())
        event.add("location", due.yard)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return str(calendar.to_ical().decode("utf-8"))


def dated(due: Due) -> tuple[date, date] | None:
    """First and last day of something due; None if no day is known."""
    first, last = due.first or due.last, due.last or due.first
    return (first, last) if first and last else None
