"""Posting, cancelling and ending runs."""

from dataclasses import asdict
from datetime import UTC, datetime

import psycopg
import pytest

from slab_base.ids import new_id
from slab_core.errors import Problem
from slab_core.stages import StepSpec, plan_steps
from slab_store.alternates import RunProblem
from slab_store.database import Database
from slab_store.errors import AlreadyExists, LeaseLost
from slab_store.results import StoredResult
from slab_store.runs import NewRun, RunInput
from tests.support.runs import ONE_FLOOR, Firm, claim, found_firm

REASON = {"type": "ArithmeticError", "message": "no"}


def test_a_posted_run_has_its_input_its_steps_and_one_announcement(database: Database, firm: Firm) -> None:
    run_id = firm.post(note="kept")
    run = firm.run(run_id)
    assert (run.state, run.seed, run.actor, run.trace_id) == ("queued", 7, "test", "trace-1")
    with database.for_organisation(firm.id) as uow:
        kept = uow.runs.input(run_id=run_id)
    assert kept is not None
    assert b'"note": "kept"' in kept.json
    steps = firm.steps(run_id)
    assert [(s.stage, s.subject, s.alternate, s.version) for s in steps] == [
        (s.stage, s.subject, s.alternate, s.version) for s in ONE_FLOOR
    ]
    assert [s.state for s in steps] == ["ready", *["waiting"] * (len(steps) - 1)]
    with database.for_queue() as uow_queue:
        assert [a.queue for a in uow_queue.queue.unpublished(limit=10)] == ["light"]


def test_what_is_not_committed_is_not_there(database: Database, firm: Firm) -> None:
    run_id = new_id()
    run = NewRun(id=run_id, seed=1, posted_at=datetime.now(UTC), actor="test")
    with database.for_organisation(firm.id) as uow:
        uow.runs.post(run=run, run_input=RunInput(json=b"{}", arrays=b""), steps=ONE_FLOOR)
    with database.for_organisation(firm.id) as uow:
        assert uow.runs.get(run_id=run_id) is None
        assert uow.runs.steps(run_id=run_id) == ()
    assert claim(database) is None


def test_an_id_that_is_taken_is_refused(firm: Firm) -> None:
    run_id = firm.post()
    with pytest.raises(AlreadyExists):
        firm.post(run_id=run_id)


def test_two_organisations_may_choose_the_same_id(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    other = found_firm(database)
    other.post(run_id=run_id)
    other.cancel(run_id)
    assert firm.run(run_id).state == "queued"


def test_a_step_that_needs_a_later_one_is_refused(firm: Firm) -> None:
    step = StepSpec(stage="rooms", subject="job", alternate="", version=1, queue="light", needs=(0,))
    with pytest.raises(ValueError, match="does not come before it"):
        firm.post(steps=(step,))
    with pytest.raises(ValueError, match="at least one step"):
        firm.post(steps=())


def test_runs_are_listed_from_the_newest_without_gaps(database: Database, firm: Firm) -> None:
    ids = [firm.post() for _ in range(5)]
    with database.for_organisation(firm.id) as uow:
        first = uow.runs.list(limit=3)
        second = uow.runs.list(limit=3, before=first[-1].id)
    assert [run.id for run in (*first, *second)] == ids[::-1]


def test_steps_become_ready_when_all_they_need_is_done_and_the_last_completes_the_run(
    database: Database, firm: Firm
) -> None:
    run_id = firm.post(steps=plan_steps(floor_ids=("a", "b")))
    done: set[int] = set()
    specs = plan_steps(floor_ids=("a", "b"))
    while (step := claim(database)) is not None:
        assert set(specs[step.ordinal].needs) <= done
        firm.finish(step)
        done.add(step.ordinal)
        ready = {s.ordinal for s in firm.steps(run_id) if s.state == "ready"}
        assert ready == {i for i, spec in enumerate(specs) if set(spec.needs) <= done and i not in done}
    run = firm.run(run_id)
    assert run.state == "completed"
    assert run.finished_at is not None
    assert len(done) == len(specs)


def test_problems_of_all_results_stand_on_the_run_in_the_order_of_the_plan(
    database: Database, firm: Firm
) -> None:
    run_id = firm.post()
    while (step := claim(database)) is not None:
        problem = Problem(code="some-finding", detail=step.spec.stage, pointer="/rooms/0")
        digest = bytes([step.ordinal]) * 32
        result = StoredResult(
            digest=digest,
            stage=step.spec.stage,
            schema=1,
            summary=b"{}",
            arrays=b"",
            problems=(problem, problem) if step.spec.stage == "surface" else (problem,),
        )
        with database.for_organisation(firm.id) as uow:
            uow.results.add(result)
            uow.steps.finish(step, digest=digest, ms=0.5)
            uow.commit()
    expected = [s.stage for s in ONE_FLOOR for _ in range(2 if s.stage == "surface" else 1)]
    assert [p.detail for p in firm.run(run_id).problems] == expected
    assert firm.run(run_id).problems[0].pointer == "/rooms/0"


def test_a_refusing_result_ends_the_run_and_skips_the_rest(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    step = claim(database)
    assert step is not None
    firm.finish(step, refused=True)
    assert firm.run(run_id).state == "refused"
    assert [s.state for s in firm.steps(run_id)] == ["done", *["skipped"] * (len(ONE_FLOOR) - 1)]
    assert claim(database) is None


def test_a_refused_input_keeps_the_problems_on_the_run(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    step = claim(database)
    assert step is not None
    problem = Problem(
        code="self-crossing", detail="vertex 3", pointer="/rooms/0/outline/3", severity="refusal"
    )
    with database.for_organisation(firm.id) as uow:
        uow.steps.refuse(step, problems=(problem,), reason=REASON)
        uow.commit()
    assert firm.run(run_id).state == "refused"
    assert firm.run(run_id).problems == (RunProblem(**asdict(problem)),)
    assert firm.steps(run_id)[0].state == "failed"


def test_a_parked_step_fails_the_run_and_keeps_the_reason(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    step = claim(database)
    assert step is not None
    problem = Problem(code="step-parked", detail="set aside", severity="refusal")
    with database.for_organisation(firm.id) as uow:
        uow.steps.park(step, problem=problem, reason=REASON)
        uow.commit()
    assert firm.run(run_id).state == "failed"
    assert firm.run(run_id).problems == (RunProblem(**asdict(problem)),)
    first = firm.steps(run_id)[0]
    assert (first.state, first.error) == ("parked", REASON)


def test_a_step_put_back_is_not_taken_before_its_time(database: Database, firm: Firm) -> None:
    firm.post()
    step = claim(database)
    assert step is not None
    with database.for_organisation(firm.id) as uow:
        uow.steps.try_again(step, reason=REASON, after_seconds=3600)
        uow.commit()
    assert claim(database) is None
    with database.for_queue() as queue:
        assert queue.queue.runnable(queue="light", limit=10) == 0


def test_a_step_put_back_for_now_is_taken_again_with_a_new_fence(database: Database, firm: Firm) -> None:
    firm.post()
    first = claim(database)
    assert first is not None
    with database.for_organisation(firm.id) as uow:
        uow.steps.try_again(first, reason=REASON, after_seconds=0)
        uow.commit()
    second = claim(database)
    assert second is not None
    assert (second.fence, second.attempts) == (first.fence + 1, 2)
    with pytest.raises(LeaseLost):
        firm.finish(first)
    firm.finish(second)


def test_cancelling_a_queued_run_takes_it_off_the_queue(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    assert firm.cancel(run_id)
    assert claim(database) is None
    run = firm.run(run_id)
    assert (run.state, run.cancel_requested_by) == ("cancelled", "test")
    assert {s.state for s in firm.steps(run_id)} == {"skipped"}
    assert not firm.cancel(run_id)


def test_cancelling_a_run_at_work_refuses_renewal_and_result(database: Database, firm: Firm) -> None:
    run_id = firm.post()
    step = claim(database)
    assert step is not None
    assert firm.cancel(run_id)
    with database.for_queue() as uow:
        assert uow.queue.renew(step, lease_seconds=30) == "cancelled"
    with pytest.raises(LeaseLost):
        firm.finish(step)
    assert firm.run(run_id).state == "cancelled"


def test_a_run_that_is_over_cannot_be_cancelled(firm: Firm) -> None:
    run_id = firm.post()
    firm.finish_run(run_id)
    assert not firm.cancel(run_id)
    assert firm.run(run_id).state == "completed"
    assert not firm.cancel(new_id())


def test_listeners_hear_of_announcement_progress_and_end(database: Database, firm: Firm) -> None:
    url = database.application_engine.url.render_as_string(hide_password=False)
    with psycopg.connect(url, autocommit=True) as ear:
        for channel in ("outbox", "run_progress", "run_finished"):
            ear.execute(f"LISTEN {channel}")
        run_id = firm.post()
        firm.finish_run(run_id)
        heard = [(n.channel, n.payload) for n in ear.notifies(timeout=0.2)]
    assert heard[0] == ("outbox", "light")
    assert heard.count(("run_progress", str(run_id))) == len(ONE_FLOOR)
    assert heard.count(("run_finished", str(run_id))) == 1
