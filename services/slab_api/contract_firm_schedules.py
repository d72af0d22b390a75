"""JSON Schemas of the firm's schedules and of crews' calendars."""

from typing import Any, get_args

from slab_api.contract import Responses, found
from slab_api.contract_parts import COUNT, ID, LINK, MOMENT, NUMBER, TEXT, Schema, many, maybe, record, ref
from slab_api.results.describe import describe, schema_name
from slab_app.calendar_text import MEDIA_TYPE
from slab_core.schedule.firm.asked import Ask, FirmAnswer
from slab_core.schedule.firm.gantt import Gantt

_STATES = ["queued", "running", "completed", "refused", "failed", "cancelled"]


def firm_schedule_schemas(schemas: dict[str, Schema]) -> dict[str, Schema]:
    """All of them by name; what they are made of is added to `schemas`."""
    for model in (FirmAnswer, Gantt):
        describe(model, into=schemas)
    item: dict[str, Schema] = {
        "id": ID,
        "state": {"type": "string", "enum": _STATES},
        "posted_at": MOMENT,
        "posted_by": TEXT,
        "started_at": maybe(MOMENT),
        "finished_at": maybe(MOMENT),
    }
    names = ("self", "cancel", "plan", "gantt", "calendar", "replans", "what_ifs", "publish")
    problem = {"code": TEXT, "detail": TEXT, "pointer": TEXT, "severity": TEXT}
    made = {"id": TEXT, "crew": TEXT, "made_at": MOMENT, "made_by": TEXT, "withdrawn_at": maybe(MOMENT)}
    calendars = {"items": many(ref("CrewCalendar")), "next": {"type": "null"}}
    return {
        "FirmScheduleItem": record("A schedule of the firm as an item of a list.", item),
        "FirmSchedule": record(
            "A schedule of the firm: what was asked and how far it is.",
            {
                **item,
                "ask": {"type": "string", "enum": list(get_args(Ask))},
                "trace_id": TEXT,
                "progress": maybe({**NUMBER, "description": "From 0 to 1, while it is at work."}),
                "problems": many(record("Something a person must know.", problem)),
                "links": record("Where its parts are.", dict.fromkeys(names, LINK)),
            },
        ),
        "FirmAnswerAnswer": _result("The answer to what was asked.", schema_name(FirmAnswer)),
        "GanttAnswer": _result("The plan as bars in rows.", schema_name(Gantt)),
        "PublishedSchedule": record(
            "A schedule that is in force until another one is published.",
            {"number": COUNT, "schedule_id": ID, "published_at": MOMENT, "published_by": TEXT},
        ),
        "CrewCalendar": record("A link under which a crew subscribes to its part.", made),
        "CrewCalendarList": record("The links that were made last, up to 200; there is no next.", calendars),
        "NewCrewCalendar": record(
            "A link that was made, which is told only here.", {"calendar": ref("CrewCalendar"), "link": LINK}
        ),
    }


def calendar_answer(description: str, *, tag: bool) -> Responses:
    """An iCalendar object."""
    responses = found("FirmSchedule", description, tag=tag)
    content: dict[str, Any] = {MEDIA_TYPE: {"schema": {"type": "string", "description": "RFC 5545."}}}
    responses[200]["content"] = content
    return responses


def _result(description: str, name: str) -> Schema:
    return record(description, {"digest": TEXT, "result": ref(name)})
