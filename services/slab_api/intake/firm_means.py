"""Crews, machines, sites and ways of a posted schedule as the core's models, and every fault at its place."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import cast
from uuid import UUID
from zoneinfo import ZoneInfo

from slab_api.bodies.pointers import pointer
from slab_api.intake.firm import as_model, starter_calendar
from slab_api.schemas.firm_schedules import (
    AbsenceDocument,
    CrewDocument,
    FirmSiteDocument,
    MachineDocument,
    WayDocument,
)
from slab_app.errors import Fault
from slab_core.schedule.calendars import utc_minute
from slab_core.schedule.firm.asked import Way
from slab_core.schedule.firm.model import Absence, Crew, Machine, Site
from slab_core.schedule.model import Calendar
from slab_core.schedule.skills import ANY
from slab_store.unit_of_work import UnitOfWork

Path = tuple[str | int, ...]
_YEARS = range(2000, 2101)


@dataclass(slots=True, kw_only=True)
class MeansReader:
    """Reads what a firm has to plan with, and gathers what is wrong. `time_zone` is that of the starter
    calendar, for a firm without one of its own."""

    uow: UnitOfWork
    time_zone: str
    faults: list[Fault] = field(default_factory=list)

    def fault(self, detail: str, at: Path) -> None:
        """Note what is wrong at a place."""
        self.faults.append(Fault(detail=detail, pointer=pointer(at)))

    def moment(self, value: datetime | None, at: Path, *, default: datetime) -> int:
        """A moment as a UTC minute."""
        if value is not None and value.year not in _YEARS:
            self.fault(f"the year {value.year} is not between {_YEARS[0]} and {_YEARS[-1]}", at)
            value = None
        return utc_minute(instant=(value or default).astimezone(UTC))

    def crews(self, crews: Sequence[CrewDocument]) -> tuple[Crew, ...]:
        """Each with its calendar, and able to do what everybody can."""
        made = []
        for n, crew in enumerate(crews):
            calendar = self._calendar(crew.calendar, ("crews", n, "calendar"))
            at: Path = ("crews", n, "absences")
            made.append(
                Crew(
                    id=crew.id,
                    people=crew.people,
                    skills=frozenset({*crew.skills, ANY}),
                    calendar=calendar,
                    absences=tuple(
                        self.absence(absence, people=crew.people, calendar=calendar, at=(*at, m))
                        for m, absence in enumerate(crew.absences)
                    ),
                    home=crew.home or "",
                )
            )
        return tuple(made)

    def absence(self, absence: AbsenceDocument, *, people: int, calendar: Calendar, at: Path) -> Absence:
        """From the begin of the first day to the end of the last."""
        if absence.to < absence.from_:
            self.fault(
                f"{absence.to} is before {absence.from_}; the last day comes after the first", (*at, "to")
            )
        away = people if absence.people is None else absence.people
        if away > people:
            self.fault(f"{away} are away of a crew of {people}", (*at, "people"))
        zone = ZoneInfo(calendar.time_zone)
        return Absence(
            start_minute=begin_of(absence.from_, zone),
            end_minute=begin_of(max(absence.from_, absence.to) + timedelta(days=1), zone),
            people=min(away, people),
        )

    def machines(self, machines: Sequence[MachineDocument]) -> tuple[Machine, ...]:
        """As they are."""
        return tuple(Machine(id=machine.id, kind=machine.kind) for machine in machines)

    def sites(self, sites: Sequence[FirmSiteDocument]) -> tuple[Site, ...]:
        """Each with its hours, if it has any."""
        return tuple(
            Site(
                id=site.id,
                allowed=None
                if site.allowed is None
                else self._calendar(site.allowed, ("sites", n, "allowed")),
                blocked=tuple(sorted(set(site.blocked))),
            )
            for n, site in enumerate(sites)
        )

    def ways(
        self, ways: Sequence[WayDocument], *, sites: Sequence[Site], crews: Sequence[Crew]
    ) -> tuple[Way, ...]:
        """Between sites and homes that are listed, each at most once in a direction."""
        known = places(sites, crews)
        first: dict[tuple[str, str], int] = {}
        for n, way in enumerate(ways):
            ends = (way.from_ or "", way.to or "")
            for name, place in zip(("from", "to"), ends, strict=True):
                if place not in known:
                    detail = f"{place!r} is no site and no crew's home; list it in sites"
                    self.fault(detail, ("travel", n, name))
            if ends[0] == ends[1]:
                self.fault("this way leads nowhere: it ends where it begins", ("travel", n))
            if ends in first:
                self.fault(f"this way is listed in row {first[ends] + 1} already", ("travel", n))
            first.setdefault(ends, n)
        return tuple(Way(start=a, end=b, minutes=ways[n].minutes) for (a, b), n in first.items())

    def _calendar(self, id: UUID | None, at: Path) -> Calendar:
        versions = self.uow.firm_versions
        found = versions.last(kind="calendar") if id is None else versions.get(kind="calendar", id=id)
        if found is not None:
            return cast(Calendar, as_model("calendar", found.document, version=str(found.id)))
        if id is not None:
            self.fault("there is no calendar version with this id", at)
        return starter_calendar(self.time_zone)


def places(sites: Sequence[Site], crews: Sequence[Crew]) -> set[str]:
    """Whatever a way may lead to."""
    return {"", *(site.id for site in sites), *(crew.home for crew in crews)}


def begin_of(day: date, zone: ZoneInfo) -> int:
    """The first minute of a local day."""
    return utc_minute(instant=datetime.combine(day, time.min, tzinfo=zone).astimezone(UTC))


def longest_day(calendar: Calendar) -> int:
    """Minutes of work on the weekday that has most of it."""
    days: dict[int, int] = {}
    for day, start, end in calendar.shifts:
        minutes = (end.hour - start.hour) * 60 + end.minute - start.minute
        days[day] = days.get(day, 0) + (minutes if minutes > 0 else minutes + 1440)
    return max(days.values(), default=0)
