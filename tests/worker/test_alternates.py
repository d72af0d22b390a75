"""An alternate that is refused ends alone, whichever worker has what in hand."""

from slab_core.stages import GRIND_ONLY, LEVEL, PLANE, plan_steps
from tests.support.crew import Crew

THREE = plan_steps(floor_ids=("a", "b"), alternates=(PLANE, GRIND_ONLY, LEVEL))


def test_two_processes_complete_the_others_of_a_refused_alternate(crew: Crew) -> None:
    crew.start_worker(processes=2)
    crew.start_relay()
    trouble = {f"correction/{GRIND_ONLY}": "refuse"}
    ids = [crew.firm.post(steps=THREE, trouble=trouble, sleep=0.02) for _ in range(4)]
    crew.wait_for_runs(ids, seconds=40)
    assert crew.effects().doubled() == []
    for run_id in ids:
        run = crew.firm.run(run_id)
        assert run.state == "completed"
        refusals = [problem for problem in run.problems if problem.severity == "refusal"]
        assert {problem.alternate for problem in refusals} == {GRIND_ONLY}
        steps = crew.firm.steps(run_id)
        assert {step.state for step in steps if step.alternate != GRIND_ONLY} == {"done"}
        ended = {step.state for step in steps if step.alternate == GRIND_ONLY and step.stage != "correction"}
        assert ended == {"skipped"}


def test_the_main_alternate_s_refusal_ends_the_run(crew: Crew) -> None:
    crew.start_worker()
    crew.start_relay()
    run_id = crew.firm.post(steps=THREE, trouble={f"correction/{PLANE}": "refuse"})
    crew.wait_for_runs([run_id], seconds=30)
    assert crew.firm.run(run_id).state == "refused"
