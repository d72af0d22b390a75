"""Whatever is killed, cut or said twice: each estimate finishes exactly once."""

import os
import signal
import time
from uuid import UUID

import pytest

from slab_base.settings import load_settings
from slab_worker.app import make_app
from slab_worker.bells import Bells
from tests.support.crew import Crew, kill, kill_family, wait_until
from tests.support.runs import ONE_FLOOR

STEPS = len(ONE_FLOOR)


def _finished_once(crew: Crew, ids: list[UUID]) -> None:
    effects = crew.effects()
    assert effects.doubled() == []
    assert dict(effects.runs.keys()) == dict.fromkeys(ids, "completed")
    assert len(effects.steps) == STEPS * len(ids)


def test_a_run_is_carried_through_by_worker_and_relay(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    ids = [crew.firm.post() for _ in range(5)]
    crew.wait_for_runs(ids, seconds=20)
    _finished_once(crew, ids)
    # Found stored: nothing is computed again, and the problems count again.
    again = crew.firm.post(salt=str(ids[0]))
    crew.wait_for_runs([again], seconds=10)
    assert {step.ms for step in crew.firm.steps(again)} == {0.0}
    assert len(crew.firm.run(again).problems) == STEPS


def test_killing_the_pool_child_in_the_middle_of_a_run(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    run_id = crew.firm.post(sleep=0.3)
    kill(crew.wait_for_claim(run_id, stage="surface"))
    crew.wait_for_runs([run_id], seconds=30)
    _finished_once(crew, [run_id])
    attempts = {step.stage: step.attempts for step in crew.firm.steps(run_id)}
    assert attempts["surface"] == 2
    assert attempts["rooms"] == 1


@pytest.mark.long  # the lease has to run out
def test_killing_the_whole_worker_in_the_middle_of_a_run(crew: Crew) -> None:
    worker = crew.start_worker()
    crew.start_relay()
    run_id = crew.firm.post(sleep=0.3)
    crew.wait_for_claim(run_id, stage="surface")
    kill_family(worker)
    crew.start_worker()
    crew.wait_for_runs([run_id], seconds=40)
    _finished_once(crew, [run_id])


def test_flushing_the_broker_with_runs_queued(crew: Crew) -> None:
    crew.start_relay()
    ids = [crew.firm.post() for _ in range(20)]
    wait_until(lambda: crew.broker.llen("slabwright.light") >= 20, seconds=20, crew=crew)
    crew.broker.flushall()
    crew.start_worker()
    crew.wait_for_runs(ids, seconds=30)
    _finished_once(crew, ids)


def test_every_message_delivered_three_times_to_two_workers(crew: Crew) -> None:
    crew.start_relay()
    ids = [crew.firm.post(sleep=0.005) for _ in range(20)]
    wait_until(lambda: crew.broker.llen("slabwright.light") >= 20, seconds=20, crew=crew)
    for message in crew.broker.lrange("slabwright.light", 0, -1):
        crew.broker.rpush("slabwright.light", message, message)
    crew.start_worker()
    crew.start_worker()
    crew.wait_for_runs(ids, seconds=40)
    _finished_once(crew, ids)
    assert all(step.attempts == 1 for run_id in ids for step in crew.firm.steps(run_id))


@pytest.mark.long  # the lease has to run out
def test_a_worker_stopped_past_its_lease_has_its_late_result_refused(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    run_id = crew.firm.post(sleep=0.4)
    stopped = int(crew.wait_for_claim(run_id, stage="surface"))
    os.kill(stopped, signal.SIGSTOP)
    crew.start_worker()
    crew.wait_for_runs([run_id], seconds=40)
    os.kill(stopped, signal.SIGCONT)
    wait_until(lambda: "was lost" in crew.log() or "no longer held" in crew.log(), seconds=20, crew=crew)
    time.sleep(0.5)
    _finished_once(crew, [run_id])


def test_a_poisoned_step_is_parked_with_the_reason_while_others_flow(crew: Crew) -> None:
    crew.settings["SLABWRIGHT_MAX_ATTEMPTS"] = "2"
    crew.start_worker()
    crew.start_relay()
    raising = crew.firm.post(trouble={"tolerance": "raise"})
    killing = crew.firm.post(trouble={"tolerance": "kill"})
    healthy = [crew.firm.post() for _ in range(5)]
    crew.wait_for_runs(healthy, seconds=25)
    crew.wait_for_runs([raising, killing], seconds=60)
    for run_id, kind in ((raising, "ArithmeticError"), (killing, "WorkerLost")):
        run = crew.firm.run(run_id)
        assert run.state == "failed"
        assert run.problems[-1].code == "step-parked"
        parked = next(step for step in crew.firm.steps(run_id) if step.state == "parked")
        assert parked.stage == "tolerance"
        assert parked.error is not None
        assert parked.error["type"] == kind
    assert crew.effects().doubled() == []
    assert all(crew.firm.run(run_id).state == "completed" for run_id in healthy)


def test_a_refusal_ends_the_run_with_its_result_kept(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    by_result = crew.firm.post(trouble={"correction": "refuse"})
    by_input = crew.firm.post(trouble={"rooms": "refuse-input"})
    crew.wait_for_runs([by_result, by_input], seconds=20)
    assert crew.firm.run(by_result).state == "refused"
    assert crew.firm.run(by_result).problems[-1].code == "toy-refusal"
    states = {step.stage: step.state for step in crew.firm.steps(by_result)}
    assert (states["correction"], states["quote"]) == ("done", "skipped")
    assert crew.firm.run(by_input).state == "refused"
    assert crew.firm.run(by_input).problems[0].pointer == "/rooms/0"


def test_a_run_at_work_is_cancelled_within_five_seconds_and_the_worker_is_free(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    stubborn = crew.firm.post(trouble={"surface": "hang"})
    queued = crew.firm.post(sleep=60)
    held_by = crew.wait_for_claim(stubborn, stage="surface")
    started = time.monotonic()
    assert crew.firm.cancel(queued)
    assert crew.firm.cancel(stubborn)
    wait_until(lambda: not os.path.exists(f"/proc/{held_by}"), seconds=5, crew=crew)
    next_run = crew.firm.post()
    crew.wait_for_runs([next_run], seconds=10)
    print(f"free again {time.monotonic() - started:.1f} s after the cancel")
    assert crew.firm.run(stubborn).state == crew.firm.run(queued).state == "cancelled"
    assert crew.effects().doubled() == []


def test_a_relay_killed_between_publish_and_mark_rings_again_and_nothing_doubles(crew: Crew) -> None:
    # Published but not marked is what such a death leaves behind.
    ids = [crew.firm.post() for _ in range(5)]
    settings = load_settings(environ={**crew.fresh.environment(), **crew.settings})
    bells = Bells(app=make_app(settings=settings))
    for _ in ids:
        bells.ring(queue="light")
    assert bells.waiting(queue="light") == 5
    relay = crew.start_relay()
    wait_until(lambda: bells.waiting(queue="light") >= 10, seconds=20, crew=crew)
    kill(relay.pid)
    crew.start_worker()
    crew.wait_for_runs(ids, seconds=30)
    _finished_once(crew, ids)


def test_sigterm_finishes_the_step_hands_the_rest_on_and_loses_nothing(crew: Crew) -> None:
    worker = crew.start_worker()
    crew.start_relay()
    run_id = crew.firm.post(sleep=0.4)
    crew.wait_for_claim(run_id, stage="surface")
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(20) == 0
    steps = {step.stage: step for step in crew.firm.steps(run_id)}
    assert steps["surface"].state == "done"
    assert steps["quote"].state == "waiting"
    assert not [step for step in steps.values() if step.state == "claimed"]
    crew.start_worker()
    crew.wait_for_runs([run_id], seconds=20)
    _finished_once(crew, [run_id])
    assert all(step.attempts == 1 for step in crew.firm.steps(run_id))
