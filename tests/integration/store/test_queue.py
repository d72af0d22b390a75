"""Claims, leases, fences and the order in which organisations are served."""

import threading
import time
from collections import Counter
from uuid import UUID

import psycopg
import pytest

from slab_core.stages import StepSpec
from slab_store.claims import ClaimedStep
from slab_store.database import Database
from slab_store.errors import LeaseLost
from slab_store.idempotency import KeptAnswer
from tests.support.databases import FreshDatabase
from tests.support.runs import KNOWN, Firm, claim, found_firm

ONE_STEP = (
    StepSpec(stage="rooms", subject="job", alternate="", version=KNOWN["rooms"], queue="light", needs=()),
)


def test_a_claimed_step_is_not_claimed_twice(database: Database, firm: Firm) -> None:
    firm.post(steps=ONE_STEP)
    assert claim(database) is not None
    assert claim(database) is None


def test_a_worker_takes_only_stages_and_versions_it_knows(database: Database, firm: Firm) -> None:
    newer = StepSpec(stage="rooms", subject="job", alternate="", version=99, queue="light", needs=())
    firm.post(steps=(newer,))
    run_id = firm.post(steps=ONE_STEP)
    step = claim(database)
    assert step is not None
    assert step.run == run_id
    assert claim(database) is None


def test_queues_are_apart(database: Database, firm: Firm) -> None:
    heavy = StepSpec(
        stage="rooms", subject="job", alternate="", version=KNOWN["rooms"], queue="heavy", needs=()
    )
    run_id = firm.post(steps=(heavy,))
    assert claim(database) is None
    step = claim(database, queue="heavy")
    assert step is not None
    assert step.run == run_id


def test_runs_of_one_organisation_are_taken_in_the_order_they_were_posted(
    database: Database, firm: Firm
) -> None:
    ids = [firm.post(steps=ONE_STEP) for _ in range(5)]
    taken = []
    while (step := claim(database)) is not None:
        firm.finish(step)
        taken.append(step.run)
    assert taken == ids


def test_a_lone_run_comes_next_beside_ten_thousand_of_another_organisation(
    database: Database, firm: Firm
) -> None:
    _flood(firm, count=10_000)
    first = claim(database)
    assert first is not None
    assert first.organisation == firm.id
    lone = found_firm(database)
    run_id = lone.post(steps=ONE_STEP)
    started = time.perf_counter()
    step = claim(database)
    took = time.perf_counter() - started
    assert step is not None
    assert step.run == run_id
    print(f"claim beside 10,000 runnable steps: {1000 * took:.1f} ms")


def test_the_claim_reads_the_queue_by_index_alone(database: Database, firm: Firm) -> None:
    from slab_store import queue

    _flood(firm, count=3_000)
    values = {"queue": "light", "known": ["rooms/1"], "lease_seconds": 1, "worker": "x"}
    with database.for_queue() as uow:
        plan = uow.connection.execute(b"EXPLAIN " + queue._CLAIM, values)
        lines = "\n".join(row[0] for row in plan)
    assert "Seq Scan on run_steps" not in lines, lines
    assert "run_steps_ready_idx" in lines, lines


def test_organisations_take_turns(database: Database) -> None:
    firms = [found_firm(database) for _ in range(3)]
    for each in firms:
        for _ in range(4):
            each.post(steps=ONE_STEP)
    order: list[UUID] = []
    while (step := claim(database)) is not None:
        next(f for f in firms if f.id == step.organisation).finish(step)
        order.append(step.organisation)
    for turn in range(4):
        assert len(set(order[3 * turn : 3 * turn + 3])) == 3


def test_who_has_fewer_steps_at_work_comes_first(database: Database) -> None:
    busy, idle = found_firm(database), found_firm(database)
    for _ in range(3):
        busy.post(steps=ONE_STEP)
    assert claim(database) is not None
    assert claim(database) is not None
    for _ in range(2):
        idle.post(steps=ONE_STEP)
    taken = [claim(database), claim(database)]
    assert [step and step.organisation for step in taken] == [idle.id, idle.id]


def test_a_late_result_is_refused_after_the_lease_went_to_another(database: Database, firm: Firm) -> None:
    run_id = firm.post(steps=ONE_STEP)
    late = claim(database, lease_seconds=0.01)
    assert late is not None
    time.sleep(0.05)
    with database.for_queue() as uow:
        assert uow.queue.release_expired() == 1
        uow.commit()
    with database.for_queue() as uow:
        assert uow.queue.renew(late, lease_seconds=30) == "lost"
    with pytest.raises(LeaseLost):
        firm.finish(late)
    second = claim(database)
    assert second is not None
    with pytest.raises(LeaseLost):
        firm.finish(late)
    firm.finish(second)
    assert firm.run(run_id).state == "completed"


def test_a_renewed_lease_is_not_swept(database: Database, firm: Firm) -> None:
    firm.post(steps=ONE_STEP)
    step = claim(database, lease_seconds=0.2)
    assert step is not None
    with database.for_queue() as uow:
        assert uow.queue.renew(step, lease_seconds=30) == "held"
        uow.commit()
    time.sleep(0.3)
    with database.for_queue() as uow:
        assert uow.queue.release_expired() == 0


def test_progress_told_with_a_renewal_is_kept_until_the_step_is_claimed_anew(
    database: Database, firm: Firm
) -> None:
    run_id = firm.post(steps=ONE_STEP)
    step = claim(database, lease_seconds=0.01)
    assert step is not None
    with database.for_queue() as uow:
        uow.queue.renew(step, lease_seconds=0.01, progress=0.25)
        uow.queue.renew(step, lease_seconds=0.01)
        uow.commit()
    assert [step.progress for step in firm.steps(run_id)] == [0.25]
    time.sleep(0.05)
    with database.for_queue() as uow:
        uow.queue.release_expired()
        uow.commit()
    assert claim(database) is not None
    assert [step.progress for step in firm.steps(run_id)] == [None]


def test_the_second_finish_of_one_claim_is_refused(database: Database, firm: Firm) -> None:
    firm.post(steps=ONE_STEP)
    step = claim(database)
    assert step is not None
    firm.finish(step)
    with pytest.raises(LeaseLost):
        firm.finish(step)


def test_workers_racing_for_a_thousand_steps_take_each_once(database: Database) -> None:
    firms = [found_firm(database) for _ in range(2)]
    for each in firms:
        _flood(each, count=500)
    taken: list[ClaimedStep] = []

    def race() -> None:
        while (step := claim(database)) is not None:
            taken.append(step)

    threads = [threading.Thread(target=race) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == 1000
    assert set(Counter((s.organisation, s.run, s.ordinal) for s in taken).values()) == {1}


def test_workers_finishing_steps_of_one_run_at_once_neither_lose_nor_double_a_step(
    database: Database, firm: Firm
) -> None:
    roots = tuple(
        StepSpec(
            stage="layout", subject=f"f{i}", alternate="", version=KNOWN["layout"], queue="light", needs=()
        )
        for i in range(40)
    )
    join = StepSpec(
        stage="takeoff",
        subject="job",
        alternate="",
        version=KNOWN["takeoff"],
        queue="light",
        needs=tuple(range(40)),
    )
    run_id = firm.post(steps=(*roots, join))

    def work() -> None:
        while (step := claim(database)) is not None:
            firm.finish(step)

    while not firm.run(run_id).is_over:
        threads = [threading.Thread(target=work) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert {s.state for s in firm.steps(run_id)} == {"done"}
    assert [s.attempts for s in firm.steps(run_id)] == [1] * 41


def test_the_next_step_of_a_run_can_be_claimed_in_the_transaction_that_finishes_one(
    database: Database, firm: Firm
) -> None:
    run_id = firm.post()
    step = claim(database)
    taken = 0
    while step is not None:
        digest = bytes([step.ordinal]) * 32
        with database.for_organisation(firm.id) as uow:
            uow.steps.finish(step, digest=digest, ms=0)
            step = uow.steps.claim_next(
                run_id=run_id, queue="light", known=KNOWN, lease_seconds=30, worker="test"
            )
            uow.commit()
        taken += 1
    assert taken == len(firm.steps(run_id))
    assert firm.run(run_id).state == "completed"


def test_announcements_are_published_once_and_purged_later(database: Database, firm: Firm) -> None:
    firm.post(steps=ONE_STEP)
    with database.for_queue() as uow:
        (announcement,) = uow.queue.unpublished(limit=5)
        with database.for_queue() as other:
            assert other.queue.unpublished(limit=5) == ()
        uow.queue.mark_published(ids=[announcement.id])
        uow.commit()
    with database.for_queue() as uow:
        assert uow.queue.unpublished(limit=5) == ()
        assert uow.queue.purge_published(older_than_seconds=60) == 0
        assert uow.queue.purge_published(older_than_seconds=-1) == 1


def test_answers_kept_for_retries_are_forgotten_in_bounded_steps_but_never_in_their_first_hour(
    database: Database, firm: Firm, shared_database: FreshDatabase
) -> None:
    answer = KeptAnswer(fingerprint=bytes(32), status=201, headers={}, body=b"{}", resource=UUID(int=1))
    with database.for_organisation(firm.id) as uow:
        for key in ("old-1", "old-2", "old-3", "younger", "new"):
            uow.idempotency.keep(key=key, answer=answer, actor="key:test")
        uow.commit()
    with psycopg.connect(shared_database.migration_url) as owner:
        ages = "UPDATE idempotency_keys SET created_at = now() - CAST(%s AS interval) WHERE key LIKE %s"
        owner.execute(ages, ("80 hours", "old-%"))
        owner.execute(ages, ("71 hours", "younger"))
    assert [_forget(database, hours=72, limit=2) for _ in range(3)] == [2, 1, 0]
    assert _forget(database, hours=0, limit=9) == 1
    with database.for_organisation(firm.id) as uow:
        assert uow.idempotency.claim(key="old-1") == (True, None)
        assert uow.idempotency.claim(key="new") == (True, answer)


def _forget(database: Database, *, hours: int, limit: int) -> int:
    with database.for_queue() as uow:
        forgotten = uow.queue.forget_answers(older_than_hours=hours, limit=limit)
        uow.commit()
    return forgotten


def _flood(firm: Firm, *, count: int) -> None:
    """Many runs of one step each, written by the database itself."""
    run_id = firm.post(steps=ONE_STEP)
    with firm.database.for_organisation(firm.id) as uow:
        for table, columns in (("runs", "id"), ("run_steps", "run")):
            uow.connection.execute(
                f"CREATE TEMP TABLE copied_{table} ON COMMIT DROP AS"
                f" SELECT original.* FROM {table} AS original"
                f" CROSS JOIN generate_series(2, %s) WHERE original.{columns} = %s",
                (count, run_id),
            )
        uow.connection.execute(
            "CREATE TEMP TABLE ids ON COMMIT DROP AS"
            " SELECT row_number() OVER () AS place, gen_random_uuid() AS id FROM generate_series(2, %s)",
            (count,),
        )
        for table, column in (("runs", "id"), ("run_steps", "run")):
            uow.connection.execute(
                f"UPDATE copied_{table} SET {column} = ids.id FROM"
                f" (SELECT ctid AS spot, row_number() OVER () AS place FROM copied_{table}) AS numbered"
                f" JOIN ids USING (place) WHERE copied_{table}.ctid = numbered.spot"
            )
            uow.connection.execute(f"INSERT INTO {table} SELECT * FROM copied_{table}")
        uow.commit()
