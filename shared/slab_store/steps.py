"""What a worker does with a step of one organisation: start, finish, refuse, fail, and take the next."""

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from slab_core.errors import Problem
from slab_store.announcements import announce
from slab_store.channels import RUN_PROGRESS
from slab_store.claims import CLAIM, RETURNED, RUNNABLE, ClaimedStep, claimed_step, known_list
from slab_store.endings import skip_rest, tell_finished
from slab_store.errors import LeaseLost
from slab_store.results import dump_problems
from slab_store.session import TenantSession
from slab_store.statement import text


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneStep:
    """A step with a result: what it was for, and the digest the result is kept under."""

    stage: str
    subject: str
    alternate: str
    digest: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """What finishing a step brought about: how many steps became runnable by queue, and the run's end."""

    freed: Mapping[str, int]
    run_is_over: bool


Reason = Mapping[str, str]
"""Why an attempt came to nothing, for the people who run the service; clients do not see it."""


_OWN_STEP = """
    organisation = :organisation AND run = :run AND ordinal = :ordinal AND fence = :fence
    AND state = 'claimed'
"""
_START = text("""
    UPDATE runs SET state = 'running', started_at = now()
    WHERE organisation = :organisation AND id = :run AND state = 'queued'
""")
_DONE = text("""
    SELECT stage, subject, alternate, digest FROM run_steps
    WHERE organisation = :organisation AND run = :run AND state = 'done' ORDER BY ordinal
""")
# Whoever ends a step or a run locks the run first; so nobody can wait in a circle, and a count of what is
# left to do is never taken while someone else changes it.
_LOCK_RUN = text("""
    SELECT state IN ('queued', 'running') FROM runs WHERE organisation = :organisation AND id = :run
    FOR NO KEY UPDATE
""")
# All parts of the statement see the rows as they were before it, so the step itself still counts as left.
_FINISH = text(f"""
    WITH told AS (SELECT pg_notify('{RUN_PROGRESS}', CAST(:run AS text))),
    mine AS (
      UPDATE run_steps SET state = 'done', digest = :digest, finished_at = clock_timestamp(), ms = :ms,
        lease_until = NULL, error = NULL
      WHERE {_OWN_STEP} RETURNING ordinal
    ),
    freed AS (
      UPDATE run_steps SET pending = pending - 1,
        state = CASE pending WHEN 1 THEN 'ready' ELSE state END
      WHERE organisation = :organisation AND run = :run AND state = 'waiting'
        AND CAST(:ordinal AS smallint) = ANY(needs) AND EXISTS (SELECT FROM mine)
      RETURNING queue, state
    )
    SELECT (SELECT count(*) FROM mine) AS finished,
      (SELECT count(*) FROM run_steps
       WHERE organisation = :organisation AND run = :run
         AND state IN ('waiting', 'ready', 'claimed')) AS remaining,
      ARRAY(SELECT queue FROM freed WHERE state = 'ready') AS freed
    FROM told
""")
_MAIN_ALTERNATE = text("""
    SELECT alternate FROM run_steps WHERE organisation = :organisation AND run = :run AND alternate <> ''
    ORDER BY ordinal LIMIT 1
""")
# Materialized: as a plain subquery Postgres may run it once for each row, and each time take another step.
_CLAIM_NEXT = text(f"""
    WITH chosen AS MATERIALIZED (
      SELECT organisation, run, ordinal FROM run_steps AS step
      WHERE organisation = :organisation AND run = :run AND {RUNNABLE}
      ORDER BY ordinal LIMIT 1 FOR UPDATE SKIP LOCKED
    )
    UPDATE run_steps AS step SET {CLAIM} FROM chosen
    WHERE step.organisation = chosen.organisation AND step.run = chosen.run
      AND step.ordinal = chosen.ordinal
    RETURNING {RETURNED}
""")
# What several alternates say is said once, of the first.
_END_RUN = text("""
    UPDATE runs SET state = :state, finished_at = clock_timestamp(),
      started_at = COALESCE(started_at, clock_timestamp()),
      problems = COALESCE((
        SELECT jsonb_agg(problem.value || jsonb_build_object('alternate', step.alternate)
          ORDER BY step.ordinal, problem.position)
        FROM run_steps AS step
        JOIN stage_results AS result
          ON result.organisation = step.organisation AND result.digest = step.digest
        CROSS JOIN jsonb_array_elements(result.problems) WITH ORDINALITY AS problem (value, position)
        WHERE step.organisation = :organisation AND step.run = :run AND step.state = 'done'
          AND NOT EXISTS (
            SELECT FROM run_steps AS earlier
            JOIN stage_results AS said
              ON said.organisation = earlier.organisation AND said.digest = earlier.digest
            WHERE earlier.organisation = step.organisation AND earlier.run = step.run
              AND earlier.stage = step.stage AND earlier.subject = step.subject
              AND earlier.ordinal < step.ordinal AND earlier.state = 'done'
              AND said.problems @> jsonb_build_array(problem.value)
          )
      ), '[]') || CAST(:problems AS jsonb)
    WHERE organisation = :organisation AND id = :run
""")
# Retention counts in days. Two runs that share results must not wait for each other over this.
_TOUCH_RESULTS = text("""
    UPDATE stage_results SET last_used_at = now() WHERE organisation = :organisation AND digest IN (
      SELECT result.digest FROM stage_results AS result
      JOIN run_steps AS step ON step.organisation = result.organisation AND step.digest = result.digest
      WHERE step.organisation = :organisation AND step.run = :run
        AND result.last_used_at < now() - interval '1 day'
      FOR NO KEY UPDATE OF result SKIP LOCKED
    )
""")
_END_STEP = text(f"""
    UPDATE run_steps SET state = :state, error = CAST(:error AS jsonb), lease_until = NULL,
      finished_at = clock_timestamp()
    WHERE {_OWN_STEP}
""")
_TRY_AGAIN = text(f"""
    UPDATE run_steps SET state = 'ready', error = CAST(:error AS jsonb), lease_until = NULL,
      retry_at = clock_timestamp() + make_interval(secs => :seconds)
    WHERE {_OWN_STEP}
""")


class Steps:
    """The steps of one organisation's runs. Whatever ends a step raises LeaseLost for a stale fence."""

    def __init__(self, session: TenantSession) -> None:
        self._session = session

    def start(self, step: ClaimedStep) -> tuple[DoneStep, ...]:
        """Mark the run as running with its first step; the steps already done, in the order of the plan."""
        if not step.spec.needs:
            self._session.execute(_START, run=step.run)
        rows = self._session.execute(_DONE, run=step.run)
        return tuple(DoneStep(**row) for row in rows)

    def claim_next(
        self, *, run_id: UUID, queue: str, known: Mapping[str, int], lease_seconds: float, worker: str
    ) -> ClaimedStep | None:
        """Take the next runnable step of this run, or None."""
        row = self._session.execute(
            _CLAIM_NEXT,
            run=run_id,
            queue=queue,
            known=known_list(known),
            lease_seconds=lease_seconds,
            worker=worker,
        ).one_or_none()
        return claimed_step(row) if row else None

    def finish(self, step: ClaimedStep, *, digest: bytes, ms: float, refused: bool = False) -> Finished:
        """The step has the result kept under `digest`.

        The run ends with its last step as completed, or here as refused when the result refuses it; a
        refused alternate other than the main one ends alone.
        """
        self._lock_run(step)
        row = self._session.execute(_FINISH, **_place(step), digest=digest, ms=ms).one()
        if row["finished"] == 0:
            raise LeaseLost(_name(step))
        given_up = refused and not self._is_for_all(step)
        left = row["remaining"] - 1
        if given_up:
            left -= skip_rest(self._session, run_id=step.run, alternate=step.spec.alternate)
        run_is_over = left == 0 or (refused and not given_up)
        if run_is_over:
            self._end_run(step, state="refused" if refused and not given_up else "completed")
        # Whatever a refusing step has freed was its own alternate's.
        return Finished(freed=Counter(() if given_up else row["freed"]), run_is_over=run_is_over)

    def announce(self, *, run_id: UUID, queue: str, count: int) -> None:
        """Have the relay ring the bell of `queue` `count` times once this transaction is committed."""
        announce(self._session, run_id=run_id, queue=queue, count=count)

    def refuse(self, step: ClaimedStep, *, problems: Sequence[Problem], reason: Reason) -> None:
        """The step cannot be computed from this input: no result, and the run is refused for `problems`."""
        self._end_step(step, state="failed", reason=reason)
        self._end_run(step, state="refused", problems=problems)

    def park(self, step: ClaimedStep, *, problem: Problem, reason: Reason) -> None:
        """Give the step up for good, keep the reason, and end the run as failed with `problem`."""
        self._end_step(step, state="parked", reason=reason)
        self._end_run(step, state="failed", problems=(problem,))

    def try_again(self, step: ClaimedStep, *, reason: Reason, after_seconds: float) -> None:
        """Put the step back for any worker, not before `after_seconds` from now; the reason is kept."""
        self._lock_run(step)
        values = {**_place(step), "error": json.dumps(reason), "seconds": after_seconds}
        if self._session.execute(_TRY_AGAIN, **values).rowcount == 0:
            raise LeaseLost(_name(step))

    def _is_for_all(self, step: ClaimedStep) -> bool:
        """Whether the run stands and falls with the step: it is the main alternate's, or none's."""
        main = self._session.execute(_MAIN_ALTERNATE, run=step.run).scalar()
        return step.spec.alternate in ("", main)

    def _lock_run(self, step: ClaimedStep) -> None:
        if not self._session.execute(_LOCK_RUN, run=step.run).scalar():
            raise LeaseLost(_name(step))

    def _end_step(self, step: ClaimedStep, *, state: str, reason: Reason) -> None:
        self._lock_run(step)
        values = {**_place(step), "state": state, "error": json.dumps(reason)}
        if self._session.execute(_END_STEP, **values).rowcount == 0:
            raise LeaseLost(_name(step))

    def _end_run(self, step: ClaimedStep, *, state: str, problems: Sequence[Problem] = ()) -> None:
        self._session.execute(_END_RUN, run=step.run, state=state, problems=dump_problems(problems))
        self._session.execute(_TOUCH_RESULTS, run=step.run)
        if state != "completed":
            skip_rest(self._session, run_id=step.run)
        tell_finished(self._session, run_id=step.run)


def _place(step: ClaimedStep) -> dict[str, Any]:
    return {"run": step.run, "ordinal": step.ordinal, "fence": step.fence}


def _name(step: ClaimedStep) -> str:
    return f"{step.spec.stage} of run {step.run} is no longer held under fence {step.fence}"
