"""What a firm posts to have all its jobs planned together."""

from datetime import date
from typing import Annotated, Literal

from pydantic import AwareDatetime, ConfigDict, Field

from slab_api.schemas.base import ClientId, Document, Label, NewId

Ordinal = Annotated[int, Field(ge=1, le=100)]
Seconds = Annotated[
    float, Field(ge=0, le=60, description="How long to look for a better plan than the first one.")
]
Day = Annotated[date, Field(ge=date(2000, 1, 1), le=date(2100, 1, 1))]
Moment = Annotated[AwareDatetime, Field(description="With its offset from UTC.")]
_QUOTE = "019e3b1c-0000-7000-8000-000000000001"


class AbsenceDocument(Document):
    """People of a crew are away, both days included, by the crew's own calendar."""

    from_: Annotated[Day, Field(alias="from")]
    to: Day
    people: Annotated[Ordinal | None, Field(description="How many; all of them unless said.")] = None


class CrewDocument(Document):
    """People who travel together: at one site at a time."""

    id: Label
    people: Ordinal
    skills: Annotated[
        tuple[Literal["slab", "wood"], ...],
        Field(
            min_length=1, description="Work on the concrete, and on the boards; other work everybody does."
        ),
    ]
    calendar: Annotated[
        ClientId | None, Field(description="A version of the firm's calendar; else the newest one.")
    ] = None
    absences: Annotated[tuple[AbsenceDocument, ...], Field(max_length=200)] = ()
    home: Annotated[
        Label | None,
        Field(
            description="Where its day begins and ends: a place that `travel` says the ways to, or a site; "
            "the yard unless said."
        ),
    ] = None


class MachineDocument(Document):
    """One machine that crews share. A kind of which none is listed is no limit."""

    id: Label
    kind: Literal["floor-grinder", "hand-grinder", "vacuum", "mixing-station", "masonry-saw"]


class FirmSiteDocument(Document):
    """A place where jobs are."""

    id: Label
    allowed: Annotated[
        ClientId | None, Field(description="A calendar version with the hours in which work is allowed.")
    ] = None
    blocked: Annotated[
        tuple[Day, ...], Field(max_length=400, description="Days on which the customer lets nobody in.")
    ] = ()


class WayDocument(Document):
    """How long the way takes between sites and homes of crews, in both directions unless the other is listed
    too. Left out: the yard."""

    from_: Annotated[Label | None, Field(alias="from")] = None
    to: Label | None = None
    minutes: Annotated[int, Field(ge=0, le=720)]


class PlannedJobDocument(Document):
    """A quoted job. Days are those of its site."""

    quote: ClientId
    id: Annotated[
        Label | None, Field(description="What the plan calls it; `quote-` and its number unless said.")
    ] = None
    site: Annotated[Label | None, Field(description="One of the sites; unless said a place at the yard.")] = (
        None
    )
    not_before: Annotated[Day | None, Field(description="First day of work; the estimate's unless said.")] = (
        None
    )
    delivered: Annotated[
        Day | None, Field(description="Day on which the boards are there; the first day of work unless said.")
    ] = None
    promised: Annotated[Day | None, Field(description="Last day on which it may be done.")] = None


_Jobs = Annotated[tuple[PlannedJobDocument, ...], Field(max_length=100)]
_Sites = Annotated[tuple[FirmSiteDocument, ...], Field(max_length=100)]
_Ways = Annotated[tuple[WayDocument, ...], Field(max_length=5000)]


class FirmScheduleCreate(Document):
    """Accepted quotes to be planned together, and who and what is there to do them."""

    id: NewId = None
    from_: Annotated[
        Moment | None, Field(alias="from", description="Nothing begins before; now unless said.")
    ] = None
    seconds: Seconds = 10.0
    like: Annotated[
        ClientId | None,
        Field(
            description="A schedule whose crews, machines, sites and ways count where this lists none; "
            "without it the firm's own crews and machines do."
        ),
    ] = None
    crews: Annotated[tuple[CrewDocument, ...], Field(max_length=20)] = ()
    machines: Annotated[tuple[MachineDocument, ...], Field(max_length=200)] = ()
    sites: _Sites = ()
    travel: _Ways = ()
    jobs: Annotated[tuple[PlannedJobDocument, ...], Field(min_length=1, max_length=100)]
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "from": "2026-03-30T06:00:00-06:00",
                    "crews": [
                        {"id": "north", "people": 4, "skills": ["slab", "wood"]},
                        {"id": "south", "people": 3, "skills": ["wood"]},
                    ],
                    "machines": [{"id": "grinder 1", "kind": "floor-grinder"}],
                    "sites": [{"id": "alder lane", "blocked": ["2026-04-03"]}],
                    "travel": [{"to": "alder lane", "minutes": 25}],
                    "jobs": [{"quote": _QUOTE, "site": "alder lane", "promised": "2026-04-17"}],
                }
            ]
        }
    )


class HappenedDocument(Document):
    """What became, or is going to become, of a visit."""

    job: Label
    task: Annotated[str, Field(min_length=1, max_length=300)]
    start: Moment | None = None
    end: Moment | None = None


class CrewAbsenceDocument(AbsenceDocument):
    """People of a crew are away that were thought to be there."""

    crew: Label


class BlockedDocument(Document):
    """Days on which a site is closed that was thought to be open."""

    site: Label
    days: Annotated[tuple[Day, ...], Field(min_length=1, max_length=400)]


class ReplanCreate(Document):
    """What has changed since a plan was made. What began before `from` stands; all else moves as little as
    keeps most promises."""

    id: NewId = None
    from_: Annotated[
        Moment | None, Field(alias="from", description="What has begun by then stands; now unless said.")
    ] = None
    seconds: Seconds = 2.0
    happened: Annotated[tuple[HappenedDocument, ...], Field(max_length=2000)] = ()
    absences: Annotated[tuple[CrewAbsenceDocument, ...], Field(max_length=200)] = ()
    blocked: Annotated[tuple[BlockedDocument, ...], Field(max_length=200)] = ()
    free: Annotated[
        tuple[Label, ...],
        Field(max_length=200, description="Jobs that may be planned anew, as if never told."),
    ] = ()
    drop: Annotated[tuple[Label, ...], Field(max_length=200, description="Jobs that are done or off.")] = ()
    sites: _Sites = ()
    travel: _Ways = ()
    jobs: Annotated[_Jobs, Field(description="New jobs.")] = ()
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "from": "2026-04-01T06:00:00-06:00",
                    "happened": [
                        {"job": "quote-1", "task": "job/0/survey", "end": "2026-04-01T15:30:00-06:00"}
                    ],
                    "absences": [{"crew": "north", "from": "2026-04-02", "to": "2026-04-02", "people": 1}],
                }
            ]
        }
    )


class WhatIfCreate(Document):
    """One more job, of any quote that is not declined or superseded: what would it do to the plan?"""

    id: NewId = None
    from_: Annotated[
        Moment | None, Field(alias="from", description="It begins no earlier; now unless said.")
    ] = None
    seconds: Seconds = 2.0
    job: PlannedJobDocument
    sites: _Sites = ()
    travel: _Ways = ()
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {"from": "2026-04-01T06:00:00-06:00", "job": {"quote": _QUOTE, "promised": "2026-04-24"}}
            ]
        }
    )


class CrewCalendarCreate(Document):
    """A link for a crew, by the id that it has in schedules."""

    crew: Label
    model_config = ConfigDict(json_schema_extra={"examples": [{"crew": "north"}]})
