"""Runs with several alternates: one that is refused ends alone, and what all of them say is said once."""

import hashlib

import pytest

from slab_core.errors import Problem
from slab_core.stages import GRIND_ONLY, LEVEL, PLANE, plan_steps
from slab_store.alternates import AlternateSummary
from slab_store.claims import ClaimedStep
from slab_store.database import Database
from slab_store.errors import LeaseLost
from slab_store.results import StoredResult
from slab_store.steps import Finished
from tests.support.runs import Firm, claim

THREE = plan_steps(floor_ids=("a", "b"), alternates=(PLANE, GRIND_ONLY, LEVEL))
REFUSAL = Problem(code="limits-unmeetable", detail="not by grinding", severity="refusal")


def _finish(
    firm: Firm, step: ClaimedStep, *problems: Problem, refused: bool = False, note: str = ""
) -> Finished:
    digest = hashlib.sha256(f"{step.run}{step.ordinal}{note}".encode()).digest()
    result = StoredResult(
        digest=digest, stage=step.spec.stage, schema=1, summary=b"{}", arrays=b"", problems=problems
    )
    with firm.database.for_organisation(firm.id) as uow:
        uow.results.add(result)
        finished = uow.steps.finish(step, digest=digest, ms=1.0, refused=refused)
        uow.commit()
    return finished


def _work_off(database: Database, firm: Firm, *, refused: tuple[str, str]) -> list[Finished]:
    """Take and finish all steps; the correction of one alternate and floor refuses."""
    done = []
    while (step := claim(database)) is not None:
        refuses = (step.spec.alternate, step.spec.subject) == refused and step.spec.stage == "correction"
        done.append(_finish(firm, step, *([REFUSAL] if refuses else []), refused=refuses))
    return done


@pytest.mark.parametrize("floor", ["a", "b"])
def test_a_refused_alternate_is_skipped_and_the_others_complete(
    database: Database, firm: Firm, floor: str
) -> None:
    run_id = firm.post(steps=THREE)
    done = _work_off(database, firm, refused=(GRIND_ONLY, floor))
    assert [one.run_is_over for one in done] == [False] * (len(done) - 1) + [True]
    run = firm.run(run_id)
    assert run.state == "completed"
    (problem,) = run.problems
    assert (problem.code, problem.alternate, problem.severity) == (
        "limits-unmeetable",
        GRIND_ONLY,
        "refusal",
    )
    states = {(step.stage, step.subject, step.alternate): step.state for step in firm.steps(run_id)}
    skipped = {key for key, state in states.items() if state == "skipped"}
    assert {alternate for _, _, alternate in skipped} == {GRIND_ONLY}
    assert {stage for stage, _, _ in skipped} >= {"takeoff", "schedule", "quote"}
    assert all(state == "done" for key, state in states.items() if key[2] != GRIND_ONLY)


def test_a_refused_main_alternate_ends_the_run(database: Database, firm: Firm) -> None:
    run_id = firm.post(steps=THREE)
    _work_off(database, firm, refused=(PLANE, "b"))
    assert firm.run(run_id).state == "refused"
    assert {step.state for step in firm.steps(run_id) if step.stage == "quote"} == {"skipped"}


def test_an_alternate_that_refuses_last_completes_the_run(database: Database, firm: Firm) -> None:
    run_id = firm.post(steps=plan_steps(floor_ids=("a",), alternates=(PLANE, LEVEL)))
    while (step := claim(database)) is not None:
        last = (step.spec.stage, step.spec.alternate) == ("quote", LEVEL)
        _finish(firm, step, *([REFUSAL] if last else []), refused=last)
    assert firm.run(run_id).state == "completed"
    assert {step.state for step in firm.steps(run_id)} == {"done"}


def test_a_worker_busy_with_a_given_up_alternate_is_told_to_stop(database: Database, firm: Firm) -> None:
    firm.post(steps=THREE)
    held: dict[str, ClaimedStep] = {}
    while (step := claim(database)) is not None:
        if step.spec.stage == "correction" and step.spec.alternate == GRIND_ONLY:
            held[step.spec.subject] = step
        else:
            _finish(firm, step)
    finished = _finish(firm, held["b"], REFUSAL, refused=True)
    assert finished.run_is_over
    with database.for_queue() as uow:
        assert uow.queue.renew(held["a"], lease_seconds=30) == "cancelled"
    with pytest.raises(LeaseLost):
        _finish(firm, held["a"])


def test_what_several_alternates_say_is_said_once_and_what_shared_stages_say_twice_stays(
    database: Database, firm: Firm
) -> None:
    run_id = firm.post(steps=plan_steps(floor_ids=("a",), alternates=(PLANE, LEVEL)))
    shared = Problem(code="misread", detail="twice")
    dust = Problem(code="caution-silica", detail="dust", severity="caution")
    while (step := claim(database)) is not None:
        said = {"surface": (shared, shared), "takeoff": (dust,)}.get(step.spec.stage, ())
        if (step.spec.stage, step.spec.alternate) == ("takeoff", LEVEL):
            said = (dust, Problem(code="second-look-many-bags", detail="many"))
        _finish(firm, step, *said)
    said_by = [(problem.code, problem.alternate) for problem in firm.run(run_id).problems]
    assert said_by == [
        ("misread", ""),
        ("misread", ""),
        ("caution-silica", PLANE),
        ("second-look-many-bags", LEVEL),
    ]


def test_summaries_of_alternates_stand_on_the_run_in_the_order_they_came(firm: Firm) -> None:
    run_id = firm.post()
    refused = AlternateSummary(alternate=GRIND_ONLY, refused=True)
    priced = AlternateSummary(
        alternate=PLANE, passes=True, plan_cost=812.5, bags=7, grinding_hours=1.5, pour_days=1, site_days=6
    )
    with firm.database.for_organisation(firm.id) as uow:
        uow.runs.add_alternate(run_id=run_id, summary=refused)
        uow.runs.add_alternate(run_id=run_id, summary=priced)
        uow.commit()
    assert firm.run(run_id).alternates == (refused, priced)
