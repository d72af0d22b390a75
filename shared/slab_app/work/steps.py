"""The step loop: claim, load, look up or compute, store, and take the next step of the run without a hop."""

import logging
import time
from collections import Counter
from collections.abc import Callable
from typing import TypeVar

from slab_app.codec import SCHEMA, Encoded
from slab_app.work.bench import Bench
from slab_app.work.failures import park_killer, record_failure
from slab_app.work.ports import Computed
from slab_app.work.upstream import StoredUpstream
from slab_base.logs import trace
from slab_store.claims import ClaimedStep
from slab_store.errors import DatabaseUnavailable, LeaseLost
from slab_store.results import StoredResult
from slab_store.unit_of_work import UnitOfWork

_log = logging.getLogger(__name__)

Answer = TypeVar("Answer")


def take_turn(*, bench: Bench, queue: str) -> int:
    """Claim the step whose turn it is on `queue` and go on with its run; the number of steps taken.

    Raises DatabaseUnavailable when Postgres is away; the steps then come back by themselves.
    """
    with bench.database.for_queue() as uow:
        step = uow.queue.claim(
            queue=queue, known=bench.known, lease_seconds=bench.lease_seconds, worker=bench.worker
        )
        uow.commit()
    return _Turn(bench=bench).take(step) if step is not None else 0


class _Turn:
    """The steps of one run that one worker takes in a row."""

    def __init__(self, *, bench: Bench) -> None:
        self._bench = bench
        self._ends = bench.clock() + bench.turn_seconds
        self._job: Encoded | None = None
        self._trace = ""
        # Steps made runnable that this turn may reach itself. The bells for them are rung only when it is
        # about to be busy or to end, so a run that is found stored from end to end rings none.
        self._owed: Counter[str] = Counter()

    def take(self, step: ClaimedStep | None) -> int:
        taken = 0
        while step is not None:
            taken += 1
            try:
                step = self._work(step)
            except LeaseLost as problem:
                _log.info("%s", problem)
                break
        return taken

    def _work(self, step: ClaimedStep) -> ClaimedStep | None:
        """Do one step; the next one, claimed, if there is one for this turn."""
        if step.attempts > self._bench.max_attempts:
            self._stored(step, lambda uow: park_killer(bench=self._bench, step=step, uow=uow))
            return None
        try:
            return self._find_or_compute(step)
        except (LeaseLost, DatabaseUnavailable):
            raise
        except Exception as cause:
            # Any other error is the step's own; it must not stop the worker from serving others.
            failure = cause
        self._stored(step, lambda uow: self._fail(step, failure, uow))
        return None

    def _find_or_compute(self, step: ClaimedStep) -> ClaimedStep | None:
        bench = self._bench
        with bench.database.for_organisation(step.organisation) as uow:
            upstream = self._start(step, uow)
            job = self._job or self._load_job(step, uow)
            digest = bench.engine.digest(step=step.spec, job=job, upstream=upstream)
            found = uow.results.get(digest=digest)
            if found is not None:
                following = self._finish(uow, step, digest=digest, computed=_computed(found), ms=0.0)
                uow.commit()
                return following
            self._ring(step, uow)
            uow.commit()
        computed, ms = self._compute(step, job, upstream)
        return self._stored(step, lambda uow: self._keep(uow, step, digest, computed, ms))

    def _compute(self, step: ClaimedStep, job: Encoded, upstream: StoredUpstream) -> tuple[Computed, float]:
        """The result and the milliseconds it took; the lease is renewed meanwhile, and only here.

        A renewal while the step is being finished would be refused, and the keeper take that for a loss.
        """
        started = time.perf_counter()
        with self._bench.keeper.holding(step) as hold, trace(self._trace):
            computed = self._bench.engine.compute(
                step=step.spec, job=job, upstream=upstream, stop=hold.stop, tell=hold.tell
            )
        return computed, 1000 * (time.perf_counter() - started)

    def _start(self, step: ClaimedStep, uow: UnitOfWork) -> StoredUpstream:
        return StoredUpstream(
            database=self._bench.database,
            cache=self._bench.cache,
            organisation=step.organisation,
            done=uow.steps.start(step),
        )

    def _load_job(self, step: ClaimedStep, uow: UnitOfWork) -> Encoded:
        run_input = uow.runs.input(run_id=step.run)
        run = uow.runs.get(run_id=step.run)
        if run_input is None or run is None:
            raise LookupError(f"the run {step.run} has no input")
        self._trace = run.trace_id
        self._job = Encoded(json=run_input.json, arrays=run_input.arrays)
        return self._job

    def _keep(
        self, uow: UnitOfWork, step: ClaimedStep, digest: bytes, computed: Computed, ms: float
    ) -> ClaimedStep | None:
        uow.results.add(_result(step, digest, computed))
        following = self._finish(uow, step, digest=digest, computed=computed, ms=ms)
        cache = self._bench.cache
        cache.put(organisation=step.organisation, digest=digest, encoded=computed.encoded)
        return following

    def _finish(
        self, uow: UnitOfWork, step: ClaimedStep, *, digest: bytes, computed: Computed, ms: float
    ) -> ClaimedStep | None:
        """Finish the step and claim the next of this run in the transaction that is open."""
        finished = uow.steps.finish(step, digest=digest, ms=ms, refused=computed.refuses)
        for hook in self._bench.on_finished:
            hook(uow, step.run, step.spec, computed)
        if finished.run_is_over:
            return None
        self._owed.update(finished.freed)
        following = self._claim_next(uow, step) if self._may_go_on() else None
        if following is None:
            self._ring(step, uow)
        return following

    def _claim_next(self, uow: UnitOfWork, step: ClaimedStep) -> ClaimedStep | None:
        bench = self._bench
        following = uow.steps.claim_next(
            run_id=step.run,
            queue=step.spec.queue,
            known=bench.known,
            lease_seconds=bench.lease_seconds,
            worker=bench.worker,
        )
        if following is not None:
            self._owed[following.spec.queue] -= 1
        return following

    def _may_go_on(self) -> bool:
        return not self._bench.leaving() and self._bench.clock() < self._ends

    def _ring(self, step: ClaimedStep, uow: UnitOfWork) -> None:
        for queue, count in self._owed.items():
            if count > 0:
                uow.steps.announce(run_id=step.run, queue=queue, count=count)
        self._owed.clear()

    def _fail(self, step: ClaimedStep, cause: Exception, uow: UnitOfWork) -> None:
        with trace(self._trace):
            record_failure(bench=self._bench, step=step, cause=cause, uow=uow)
        self._ring(step, uow)

    def _stored(self, step: ClaimedStep, write: Callable[[UnitOfWork], Answer]) -> Answer:
        """Write and commit, again and again for as long as a lease while Postgres is away.

        A computed result is worth waiting for. If a commit was made but its answer was lost, the second
        try finds the step finished and ends as LeaseLost.
        """
        bench = self._bench
        give_up = bench.clock() + bench.lease_seconds
        while True:
            try:
                with bench.database.for_organisation(step.organisation) as uow:
                    answer = write(uow)
                    uow.commit()
                    return answer
            except DatabaseUnavailable:
                if bench.clock() > give_up:
                    raise
                time.sleep(0.2)


def _computed(found: StoredResult) -> Computed:
    encoded = Encoded(json=found.summary, arrays=found.arrays)
    return Computed(encoded=encoded, problems=found.problems, quote=found.quote)


def _result(step: ClaimedStep, digest: bytes, computed: Computed) -> StoredResult:
    return StoredResult(
        digest=digest,
        stage=step.spec.stage,
        schema=SCHEMA,
        summary=computed.encoded.json,
        arrays=computed.encoded.arrays,
        problems=computed.problems,
        quote=computed.quote,
    )
