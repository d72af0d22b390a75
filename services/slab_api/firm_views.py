"""Schedules of the firm and crews' calendars as clients see them."""

import re
from dataclasses import asdict
from typing import Any

from slab_api.views import run_view
from slab_app.actions.firm_schedules import Answered, FirmSchedule
from slab_app.plain import moment, to_plain
from slab_core.schedule.firm.asked import Ask
from slab_core.schedule.firm.gantt import gantt
from slab_store.crew_calendars import CrewCalendar
from slab_store.published_schedules import PublishedSchedule
from slab_store.runs import Run

Json = dict[str, Any]

_IN_A_JOB = re.compile(r"^(/jobs/\d+)/.*$")


def schedule_item(run: Run) -> Json:
    """A schedule as an item of a list."""
    view = run_view(run)
    del view["job_id"]
    return view


def schedule_view(schedule: FirmSchedule) -> Json:
    """A schedule as it is now; what is wrong within a job is named at the job."""
    run, step = schedule.run, schedule.step
    path = f"/v1/firm-schedules/{run.id}"
    links = {
        "self": path,
        "cancel": f"{path}/cancel",
        "plan": f"{path}/plan",
        "gantt": f"{path}/gantt",
        "calendar": f"{path}/calendar",
        "replans": f"{path}/replans",
        "what_ifs": f"{path}/what-ifs",
        "publish": f"{path}/publish",
    }
    return {
        **schedule_item(run),
        "ask": schedule.ask,
        "trace_id": run.trace_id,
        "progress": step.progress if step.state == "claimed" else None,
        "problems": [_problem(asdict(problem), ask=schedule.ask) for problem in run.problems],
        "links": links,
    }


def answer_view(answered: Answered) -> Json:
    """The answer to what was asked."""
    plain = to_plain(answered.answer)
    plain["problems"] = [_problem(problem, ask=answered.question.ask) for problem in plain["problems"]]
    return {"digest": answered.digest.hex(), "result": plain}


def gantt_view(answered: Answered) -> Json:
    """The plan as a chart. Raises NotReady for a what-if."""
    chart = gantt(question=answered.question, plan=answered.plan())
    return {"digest": answered.digest.hex(), "result": to_plain(chart)}


def published_view(published: PublishedSchedule) -> Json:
    """That a schedule is in force."""
    return {
        "number": published.number,
        "schedule_id": str(published.run),
        "published_at": moment(published.published_at),
        "published_by": published.published_by,
    }


def crew_calendar_view(calendar: CrewCalendar) -> Json:
    """A crew's link as the office sees it; the link itself is only in the answer that made it."""
    return {
        "id": calendar.id,
        "crew": calendar.crew,
        "made_at": moment(calendar.made_at),
        "made_by": calendar.made_by,
        "withdrawn_at": calendar.withdrawn_at and moment(calendar.withdrawn_at),
    }


def _problem(problem: Json, *, ask: Ask) -> Json:
    """Without an alternate; only a plan's jobs stand in the order of what was posted."""
    plain = {name: problem[name] for name in ("code", "detail", "pointer", "severity")}
    place = _IN_A_JOB.sub(r"\1", plain["pointer"]) if ask == "plan" else ""
    return {**plain, "pointer": place}
