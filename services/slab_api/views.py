"""Records as clients see them. Ids, moments and links are text; links are paths on this service."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any
from uuid import UUID

from slab_api.bodies.digest import content_digest
from slab_api.results.views import problem_view
from slab_app.actions.estimates import Estimate
from slab_app.plain import moment
from slab_core.stages import STAGES, StepSpec
from slab_store.alternates import AlternateSummary, RunProblem
from slab_store.firm_versions import FirmVersion
from slab_store.jobs import JobRecord
from slab_store.quotes import QuoteTotal
from slab_store.rooms import RoomRecord
from slab_store.runs import Run, RunStep
from slab_store.scans import ScanRecord
from slab_store.surveys import ChunkInfo, SurveyRecord

Json = dict[str, Any]


def estimate_view(estimate: Estimate) -> Json:
    """An estimate with its steps, problems, alternates, quotes and links."""
    run = estimate.run
    return {
        **run_view(run),
        "seed": run.seed,
        "trace_id": run.trace_id,
        "problems": [_problem_view(problem) for problem in run.problems],
        "steps": [_step_view(step) for step in estimate.steps],
        "alternates": _alternate_views(estimate),
        "quotes": [_total_view(quote) for quote in estimate.quotes],
        "links": _estimate_links(estimate),
    }


def run_view(run: Run) -> Json:
    """An estimate as an item of a list."""
    return {
        "id": str(run.id),
        "job_id": run.job_id and str(run.job_id),
        "state": run.state,
        "posted_at": moment(run.posted_at),
        "posted_by": run.actor,
        "started_at": _maybe(run.started_at),
        "finished_at": _maybe(run.finished_at),
    }


def queued_estimate(
    *,
    id: UUID,
    job_id: UUID | None,
    seed: int,
    actor: str,
    trace_id: str,
    now: datetime,
    steps: Sequence[StepSpec],
) -> Estimate:
    """An estimate as it is right after it was posted, without asking the database for what is known."""
    run = Run(
        id=id,
        job_id=job_id,
        kind="estimate",
        state="queued",
        seed=seed,
        posted_at=now,
        actor=actor,
        trace_id=trace_id,
        started_at=None,
        finished_at=None,
        problems=(),
        cancel_requested_at=None,
        cancel_requested_by=None,
    )
    waiting = tuple(
        RunStep(
            ordinal=ordinal,
            stage=step.stage,
            subject=step.subject,
            alternate=step.alternate,
            version=step.version,
            state="waiting" if step.needs else "ready",
            attempts=0,
            digest=None,
            started_at=None,
            finished_at=None,
            ms=None,
            progress=None,
            error=None,
        )
        for ordinal, step in enumerate(steps)
    )
    return Estimate(run=run, steps=waiting)


def job_view(job: JobRecord) -> Json:
    """A job's record with its document."""
    path = f"/v1/jobs/{job.id}"
    links = {
        "self": path,
        "rooms": f"{path}/rooms",
        "surveys": f"{path}/surveys",
        "estimates": f"{path}/estimates",
    }
    return {
        "id": str(job.id),
        "version": job.version,
        **_changed(job),
        "document": job.document,
        "links": links,
    }


def room_view(room: RoomRecord) -> Json:
    """A room's record with its document."""
    links = {"self": f"/v1/rooms/{room.id}", "job": f"/v1/jobs/{room.job}"}
    return {
        "id": str(room.id),
        "job_id": str(room.job),
        "version": room.version,
        **_changed(room),
        "document": room.document,
        "links": links,
    }


def survey_view(
    survey: SurveyRecord, chunks: Sequence[ChunkInfo] = (), scans: Sequence[ScanRecord] = ()
) -> Json:
    """A survey's record; its chunks by number, without their readings, and its scans' files."""
    path = f"/v1/surveys/{survey.id}"
    return {
        "id": str(survey.id),
        "job_id": str(survey.job),
        "state": survey.state,
        "created_at": moment(survey.created_at),
        "created_by": survey.created_by,
        "closed_at": _maybe(survey.closed_at),
        "closed_by": survey.closed_by,
        "chunks": [chunk_view(survey.id, chunk) for chunk in chunks],
        "chunk_count": survey.chunks,
        "scans": [scan_file_view(scan) for scan in scans],
        "document": survey.document,
        "links": {"self": path, "close": f"{path}/close", "job": f"/v1/jobs/{survey.job}"},
    }


def chunk_view(survey: UUID, chunk: ChunkInfo) -> Json:
    """What is known of a chunk. The same chunk sent again has the same view."""
    return {
        "survey_id": str(survey),
        "number": chunk.number,
        "rows": chunk.row_count,
        "content_digest": content_digest(chunk.sha256),
        "created_at": moment(chunk.created_at),
    }


def scan_view(scan: ScanRecord) -> Json:
    """A scan's record: its file, and what was said of it."""
    survey = f"/v1/surveys/{scan.survey}"
    return {
        **scan_file_view(scan),
        "version": scan.version,
        **_changed(scan),
        "document": scan.document,
        "links": {"self": f"{survey}/scans/{scan.id}", "survey": survey},
    }


def scan_file_view(scan: ScanRecord) -> Json:
    """What is known of a scan's file. The same file sent again has the same view."""
    return {
        "id": str(scan.id),
        "survey_id": str(scan.survey),
        "kind": scan.kind,
        "size_bytes": scan.size_bytes,
        "content_digest": content_digest(scan.sha256),
        "created_at": moment(scan.created_at),
        "created_by": scan.created_by,
    }


def firm_view(version: FirmVersion) -> Json:
    """One version of a firm's book."""
    return {
        "id": str(version.id),
        "created_at": moment(version.created_at),
        "created_by": version.created_by,
        "document": version.document,
    }


def _step_view(step: RunStep) -> Json:
    return {
        "stage": step.stage,
        "subject": step.subject,
        "alternate": step.alternate or None,
        "state": step.state,
        "attempts": step.attempts,
        "ms": None if step.ms is None else round(step.ms, 1),
        "progress": step.progress if step.state == "claimed" else None,
        "error": step.error and {name: step.error.get(name) for name in ("code", "detail")},
    }


def _problem_view(problem: RunProblem) -> Json:
    return {**problem_view(asdict(problem)), "alternate": problem.alternate or None}


def _alternate_views(estimate: Estimate) -> list[Json]:
    """Those that are priced or refused, in the order they were asked for."""
    asked = list(dict.fromkeys(step.alternate for step in estimate.steps))
    totals = {quote.alternate: quote for quote in estimate.quotes}
    found = sorted(estimate.run.alternates, key=lambda summary: asked.index(summary.alternate))
    return [_alternate_view(summary, quote=totals.get(summary.alternate)) for summary in found]


def _alternate_view(summary: AlternateSummary, *, quote: QuoteTotal | None) -> Json:
    cost, hours = summary.plan_cost, summary.grinding_hours
    return {
        "alternate": summary.alternate,
        "refused": summary.refused,
        "passes": summary.passes,
        "plan_cost": None if cost is None else round(cost, 2),
        "bags": summary.bags,
        "grinding_hours": None if hours is None else round(hours, 2),
        "pour_days": summary.pour_days,
        "site_days": summary.site_days,
        "total": quote and _money(quote),
        "quote_id": quote and str(quote.id),
    }


def _money(quote: QuoteTotal) -> Json:
    return {"amount": str(quote.total), "currency": quote.currency}


def _total_view(quote: QuoteTotal) -> Json:
    return {
        "id": str(quote.id),
        "number": quote.number,
        "alternate": quote.alternate,
        "total": _money(quote),
    }


def _estimate_links(estimate: Estimate) -> Json:
    path = f"/v1/estimates/{estimate.run.id}"
    there = {step.stage for step in estimate.steps}
    stages = {stage.name: f"{path}/{stage.name}" for stage in STAGES if stage.name in there}
    return {
        "self": path,
        "cancel": f"{path}/cancel",
        **stages,
        "quotes": [f"/v1/quotes/{quote.id}" for quote in estimate.quotes],
    }


def _changed(record: JobRecord | RoomRecord | ScanRecord) -> Json:
    return {
        "created_at": moment(record.created_at),
        "created_by": record.created_by,
        "updated_at": moment(record.updated_at),
        "updated_by": record.updated_by,
    }


def _maybe(value: datetime | None) -> str | None:
    return None if value is None else moment(value)
