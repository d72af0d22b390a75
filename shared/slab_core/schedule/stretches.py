"""From when until when people are really there: a piece of work cut at nights, weekends and other pauses."""

from itertools import groupby

from slab_core.schedule.calendars import Window


def days_of(
    *, start_minute: int, end_minute: int, windows: tuple[Window, ...]
) -> tuple[tuple[int, int], ...]:
    """For each day of work in the span its first and last minute; the span as it is when no shift meets it.

    `windows` are shifts in order. Breaks within a day are left in.
    """
    cut = []
    for _, group in groupby(windows, key=lambda window: window.day):
        own = [w for w in group if w.start < end_minute and w.end > start_minute]
        if own:
            cut.append((max(own[0].start, start_minute), min(own[-1].end, end_minute)))
    return tuple(cut) or ((start_minute, end_minute),)
