"""A step in the hands of a worker, and the parts of SQL that all ways of claiming share."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from slab_core.stages import StepSpec
from slab_store.statement import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimedStep:
    """A step that is this worker's as long as the lease is renewed and the fence is the step's newest.

    `attempts` counts this claim too.
    """

    organisation: UUID
    run: UUID
    ordinal: int
    spec: StepSpec
    fence: int
    attempts: int


CLAIM = """
    state = 'claimed', fence = step.fence + 1, attempts = step.attempts + 1, worker = :worker,
    progress = NULL, lease_until = clock_timestamp() + make_interval(secs => :lease_seconds),
    started_at = clock_timestamp()
"""
RETURNED = """
    step.organisation, step.run, step.ordinal, step.stage, step.subject, step.alternate, step.version,
    step.queue, step.needs, step.fence, step.attempts
"""
# A worker takes only what it knows, so that old and new workers can run side by side.
RUNNABLE = """
    step.state = 'ready' AND step.queue = :queue AND step.stage || '/' || step.version = ANY(:known)
    AND (step.retry_at IS NULL OR step.retry_at <= clock_timestamp())
"""


def known_list(known: Mapping[str, int]) -> list[str]:
    """Stage versions in the spelling that RUNNABLE compares."""
    return [f"{stage}/{version}" for stage, version in known.items()]


def claimed_step(row: Row) -> ClaimedStep:
    """A claimed step from what RETURNED names."""
    spec = StepSpec(
        needs=tuple(row["needs"]),
        **{name: row[name] for name in ("stage", "subject", "alternate", "version", "queue")},
    )
    own = {name: row[name] for name in ("organisation", "run", "ordinal", "fence", "attempts")}
    return ClaimedStep(spec=spec, **own)
