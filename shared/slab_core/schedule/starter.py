"""The calendar a firm starts with: common practice, no single source."""

from datetime import time

from slab_core.schedule.model import Calendar

VERSION = "starter-1"


def calendar(time_zone: str) -> Calendar:
    """Monday to Friday, 08:00 to 17:00 with half an hour off at noon, in the site's own time zone."""
    halves = ((time(8), time(12)), (time(12, 30), time(17)))
    shifts = tuple((day, start, end) for day in range(5) for start, end in halves)
    return Calendar(version=VERSION, time_zone=time_zone, shifts=shifts)
