"""The firm's schedule under a real worker and broker: whatever is cut off or said twice, one plan comes."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

import pytest

from slab_app.actions.firm_schedules import KIND
from slab_app.codec import Encoded, decode, encode
from slab_base.ids import new_id
from slab_core.schedule.firm.asked import FirmAnswer, FirmQuestion, Way
from slab_core.stages import FIRM_SCHEDULE, firm_steps
from slab_store.runs import NewRun, RunInput
from tests.support.crew import Crew, crew_of, kill, wait_until
from tests.support.databases import FreshDatabase
from tests.support.firms import START, broken, invented_firm, ways_of

STAGE, BELLS = FIRM_SCHEDULE.name, f"slabwright.{FIRM_SCHEDULE.queue}"


@pytest.fixture
def crew(fresh_database: FreshDatabase, valkey_server: str, tmp_path: Path) -> Iterator[Crew]:
    """Workers that plan firms in earnest; no process is started yet."""
    with crew_of(
        fresh=fresh_database,
        broker_url=valkey_server,
        folder=tmp_path,
        SLABWRIGHT_ENGINE="tests.support.firm_engine:FirmEngine",
    ) as made:
        yield made


def _question(*, seed: int, seconds: float) -> FirmQuestion:
    firm = invented_firm(seed=seed, crews=3, jobs=4, weeks=6)
    return FirmQuestion(
        ask="plan",
        crews=firm.crews,
        machines=firm.machines,
        sites=firm.sites,
        jobs=firm.jobs,
        ways=tuple(Way(start=a, end=b, minutes=m) for (a, b), m in firm.travel.items()),
        now_minute=START,
        seconds=seconds,
    )


def _ask(crew: Crew, question: FirmQuestion) -> UUID:
    stored = encode(question)
    run = NewRun(
        id=new_id(), seed=1, posted_at=datetime.now(UTC), actor="test", trace_id="trace-1", kind=KIND
    )
    with crew.firm.database.for_organisation(crew.firm.id) as uow:
        uow.runs.post(run=run, run_input=RunInput(json=stored.json, arrays=stored.arrays), steps=firm_steps())
        uow.commit()
    return run.id


def _planned_once(crew: Crew, asked: dict[UUID, FirmQuestion]) -> None:
    """Every question has ended once, with a plan of its own firm that breaks nothing."""
    effects = crew.effects()
    assert effects.doubled() == []
    assert dict(effects.runs.keys()) == dict.fromkeys(asked, "completed")
    assert len(effects.steps) == len(asked)
    for run_id, question in asked.items():
        plan = _answer(crew, run_id).plan
        assert plan is not None
        firm = question.firm()
        assert broken(firm, plan.visits, travel=ways_of(firm)) == []


def _answer(crew: Crew, run_id: UUID) -> FirmAnswer:
    (step,) = crew.firm.steps(run_id)
    assert step.digest is not None
    with crew.firm.database.for_organisation(crew.firm.id) as uow:
        stored = uow.results.get(digest=step.digest)
    assert stored is not None
    return decode(FirmAnswer, Encoded(json=stored.summary, arrays=stored.arrays))


def test_a_search_whose_process_is_killed_begins_again_and_ends_once(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    question = _question(seed=11, seconds=3)
    run_id = _ask(crew, question)
    kill(crew.wait_for_claim(run_id, stage=STAGE, seconds=120))
    crew.wait_for_runs([run_id], seconds=60)
    _planned_once(crew, {run_id: question})
    (step,) = crew.firm.steps(run_id)
    assert step.attempts == 2


def test_bells_that_ring_three_times_for_two_workers_give_each_question_one_plan(crew: Crew) -> None:
    crew.start_relay()
    asked = {_ask(crew, question): question for question in (_question(seed=n, seconds=1) for n in (21, 22))}
    wait_until(lambda: crew.broker.llen(BELLS) >= len(asked), seconds=20, crew=crew)
    for message in crew.broker.lrange(BELLS, 0, -1):
        crew.broker.rpush(BELLS, message, message)
    crew.start_worker()
    crew.start_worker()
    crew.wait_for_runs(list(asked), seconds=120)
    _planned_once(crew, asked)
    assert {step.attempts for run_id in asked for step in crew.firm.steps(run_id)} == {1}


def test_a_search_that_is_cancelled_leaves_no_plan_and_frees_its_worker(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    long = _ask(crew, _question(seed=31, seconds=60))
    crew.wait_for_claim(long, stage=STAGE, seconds=120)
    assert crew.firm.cancel(long)
    question = _question(seed=32, seconds=0.5)
    then = _ask(crew, question)
    # The one process there is would search for a minute yet, had it not let go.
    crew.wait_for_runs([then], seconds=30)
    assert crew.firm.run(long).state == "cancelled"
    (step,) = crew.firm.steps(long)
    assert step.digest is None
    effects = crew.effects()
    assert effects.doubled() == []
    assert set(effects.runs) == {(long, "cancelled"), (then, "completed")}
