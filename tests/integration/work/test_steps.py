"""The step loop with a real store and no broker."""

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any
from uuid import UUID

import psycopg
import pytest

from slab_app.codec import Encoded
from slab_app.work.bench import Bench
from slab_app.work.lease import LeaseKeeper
from slab_app.work.ports import Computed, Upstream
from slab_app.work.steps import take_turn
from slab_core.stages import StepSpec, plan_steps
from slab_store.database import Database
from slab_store.errors import DatabaseUnavailable
from slab_store.queue import Renewal
from slab_store.unit_of_work import UnitOfWork
from tests.support.databases import FreshDatabase
from tests.support.runs import KNOWN, ONE_FLOOR, Firm, found_firm, open_database
from tests.support.toy_engine import ToyEngine


class _Counting(ToyEngine):
    """Counts computations, and shows each step what it can see of the earlier ones."""

    def __init__(self) -> None:
        self.computed: list[str] = []
        self.seen: list[tuple[str, ...]] = []
        self.during: Callable[[], None] = lambda: None

    def compute(
        self,
        *,
        step: StepSpec,
        job: Encoded,
        upstream: Upstream,
        stop: Callable[[], bool],
        tell: Callable[[float], None],
    ) -> Computed:
        self.computed.append(step.stage)
        earlier = upstream.keys()
        for stage, subject, alternate in earlier:
            assert stage.encode() in upstream.load(stage, subject, alternate).json
            assert len(upstream.digest(stage, subject, alternate)) == 32
        self.seen.append(tuple(stage for stage, _, _ in earlier))
        tell(0.25)
        self.during()
        return super().compute(step=step, job=job, upstream=upstream, stop=stop, tell=tell)


@pytest.fixture
def database(fresh_database: FreshDatabase) -> Iterator[Database]:
    opened = open_database(fresh_database)
    yield opened
    opened.close()


@pytest.fixture
def firm(database: Database) -> Firm:
    return found_firm(database)


@pytest.fixture
def lost() -> list[Renewal]:
    return []


@pytest.fixture
def bench(database: Database, lost: list[Renewal]) -> Iterator[Bench]:
    keeper = LeaseKeeper(database=database, lease_seconds=0.6, on_lost=lost.append)
    yield Bench(
        database=database,
        engine=_Counting(),
        keeper=keeper,
        known=KNOWN,
        worker="test",
        lease_seconds=30,
        max_attempts=2,
    )
    keeper.close()


def _engine(bench: Bench) -> Any:
    return bench.engine


def _announced(database: Database) -> int:
    with database.for_queue() as uow:
        return len(uow.queue.unpublished(limit=100))


def test_one_turn_carries_a_run_through_and_each_step_sees_what_came_before(bench: Bench, firm: Firm) -> None:
    run_id = firm.post()
    assert take_turn(bench=bench, queue="light") == len(ONE_FLOOR)
    assert firm.run(run_id).state == "completed"
    assert _engine(bench).computed == [step.stage for step in ONE_FLOOR]
    for spec, seen in zip(ONE_FLOOR, _engine(bench).seen, strict=True):
        assert {ONE_FLOOR[need].stage for need in spec.needs} <= set(seen)
    assert take_turn(bench=bench, queue="light") == 0


def test_a_run_found_stored_computes_nothing_and_rings_no_bell(
    bench: Bench, firm: Firm, database: Database
) -> None:
    first = firm.post(salt="same")
    take_turn(bench=bench, queue="light")
    _engine(bench).computed.clear()
    before = _announced(database)
    second = firm.post(salt="same")
    started = time.perf_counter()
    take_turn(bench=bench, queue="light")
    print(f"nine steps found stored: {1000 * (time.perf_counter() - started):.0f} ms")
    assert _engine(bench).computed == []
    assert _announced(database) == before + 1
    assert firm.run(second).state == "completed"
    assert firm.run(second).problems == firm.run(first).problems != ()


def test_bells_are_rung_for_steps_that_others_could_take_meanwhile(
    bench: Bench, firm: Firm, database: Database
) -> None:
    firm.post(steps=plan_steps(floor_ids=("a", "b", "c")))
    take_turn(bench=bench, queue="light")
    # One for the run; after rooms: surveys taken, three layouts rung for; and so on.
    assert _announced(database) > 4


def test_a_hook_s_writes_stand_or_fall_with_the_step(bench: Bench, firm: Firm) -> None:
    seen: list[str] = []

    def hook(uow: UnitOfWork, run: UUID, step: StepSpec, computed: Computed) -> None:
        seen.append(step.stage)
        if step.stage == "surface" and seen.count("surface") == 1:
            raise ArithmeticError("not this time")

    hooked = replace(bench, on_finished=(hook,))
    run_id = firm.post()
    take_turn(bench=hooked, queue="light")
    steps = {step.stage: step for step in firm.steps(run_id)}
    assert steps["surface"].state == "ready"
    assert steps["surface"].error == {"type": "ArithmeticError", "message": "not this time", "worker": "test"}
    time.sleep(1.1)  # the first pause before another try
    while not firm.run(run_id).is_over:
        assert take_turn(bench=hooked, queue="light")
    assert seen.count("surface") == 2
    assert firm.run(run_id).state == "completed"


def test_a_step_whose_workers_all_vanished_is_parked_without_another_try(bench: Bench, firm: Firm) -> None:
    run_id = firm.post()
    for _ in range(bench.max_attempts):
        with bench.database.for_queue() as uow:
            assert uow.queue.claim(queue="light", known=KNOWN, lease_seconds=0, worker="gone")
            uow.commit()
        with bench.database.for_queue() as uow:
            uow.queue.release_expired()
            uow.commit()
    take_turn(bench=bench, queue="light")
    assert _engine(bench).computed == []
    run = firm.run(run_id)
    assert run.state == "failed"
    assert run.problems[0].code == "step-parked"


def test_a_worker_that_is_leaving_takes_no_further_step_and_rings_for_the_rest(
    bench: Bench, firm: Firm, database: Database
) -> None:
    run_id = firm.post()
    before = _announced(database)
    assert take_turn(bench=replace(bench, leaving=lambda: True), queue="light") == 1
    assert [s.state for s in firm.steps(run_id)].count("ready") == 2
    assert _announced(database) == before + 2


def test_a_turn_that_has_lasted_long_enough_hands_its_run_on(bench: Bench, firm: Firm) -> None:
    firm.post()
    assert take_turn(bench=replace(bench, turn_seconds=0), queue="light") == 1


def test_the_lease_is_renewed_while_a_step_is_computed(bench: Bench, firm: Firm, lost: list[Renewal]) -> None:
    run_id = firm.post()
    _engine(bench).during = lambda: time.sleep(0.35)
    short = replace(bench, lease_seconds=0.6, leaving=lambda: True)
    leases: list[Any] = []

    def look() -> None:
        time.sleep(0.5)
        with firm.database.for_queue() as uow:
            row = uow.connection.execute(
                "SELECT lease_until > clock_timestamp() + interval '0.25 s' FROM run_steps WHERE run = %s"
                " AND state = 'claimed'",
                (run_id,),
            ).fetchone()
            leases.extend(row or ())

    _engine(bench).during = look
    take_turn(bench=short, queue="light")
    assert leases == [True]
    assert lost == []


def test_how_far_a_step_is_can_be_seen_while_it_is_computed(bench: Bench, firm: Firm) -> None:
    run_id = firm.post()
    seen: list[float | None] = []

    def look() -> None:
        time.sleep(0.5)
        seen.extend(step.progress for step in firm.steps(run_id) if step.state == "claimed")

    _engine(bench).during = look
    take_turn(bench=replace(bench, leaving=lambda: True), queue="light")
    assert seen == [0.25]


def test_a_computation_is_told_to_stop_when_its_run_is_cancelled(
    bench: Bench, firm: Firm, lost: list[Renewal]
) -> None:
    run_id = firm.post(sleep=30)
    _engine(bench).during = lambda: firm.cancel(run_id)
    started = time.monotonic()
    take_turn(bench=bench, queue="light")
    assert time.monotonic() - started < 5
    assert lost == []
    assert firm.run(run_id).state == "cancelled"
    assert {step.state for step in firm.steps(run_id)} == {"skipped"}


def test_a_step_taken_by_another_is_left_at_the_next_renewal(
    bench: Bench, firm: Firm, lost: list[Renewal]
) -> None:
    firm.post()

    def overtake() -> None:
        with firm.database.for_queue() as uow:
            uow.connection.execute("UPDATE run_steps SET fence = fence + 1 WHERE state = 'claimed'")
            uow.commit()
        time.sleep(0.5)

    _engine(bench).during = overtake
    assert take_turn(bench=bench, queue="light") == 1
    assert lost == ["lost"]


def test_postgres_out_of_reach_is_a_plain_error(fresh_database: FreshDatabase) -> None:
    away = Database(
        application_url="postgresql://a:b@127.0.0.1:1/x", queue_url="postgresql://a:b@127.0.0.1:1/x"
    )
    with pytest.raises(DatabaseUnavailable), away.for_queue():
        pass


def _wait_until_alone(owner: psycopg.Connection[Any]) -> None:
    """The server ends connections a moment after it says that it will."""
    others = "SELECT 1 FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
    for _ in range(200):
        if owner.execute(others).fetchone() is None:
            return
        time.sleep(0.05)
    raise AssertionError("the server still holds connections after 10 s")


def test_a_connection_closed_by_the_server_is_replaced_unnoticed(
    bench: Bench, firm: Firm, fresh_database: FreshDatabase
) -> None:
    with psycopg.connect(fresh_database.migration_url, autocommit=True) as owner:
        owner.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        _wait_until_alone(owner)
    run_id = firm.post()
    take_turn(bench=bench, queue="light")
    assert firm.run(run_id).state == "completed"
