"""Reads calendars with Debian's python3-icalendar and prints what they hold.

Standard input is a JSON list of base64 texts; standard output is a JSON list
with one object for each: the calendar's properties and its events.
"""

import base64
import json
import sys
from datetime import date, datetime, timedelta

from icalendar import Calendar


def plain(value):
    """The value of a property as JSON can hold it."""
    if isinstance(value, list):
        return [plain(v) for v in value]
    if hasattr(value, "cats"):  # of one CATEGORIES
        return [str(c) for c in value.cats]
    value = getattr(value, "dt", value)
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, timedelta):
        return int(value.total_seconds())
    if isinstance(value, int):
        return int(value)
    return str(value)


def properties(component):
    return {name: plain(value) for name, value in component.items()}


def main():
    out = []
    for text in json.load(sys.stdin):
        calendar = Calendar.from_ical(base64.b64decode(text))
        out.append({
            "properties": properties(calendar),
            "events": [properties(e) for e in calendar.walk("VEVENT")],
            "errors": [str(e) for c in calendar.walk() for e in getattr(c, "errors", [])],
        })
    json.dump(out, sys.stdout)


main()
