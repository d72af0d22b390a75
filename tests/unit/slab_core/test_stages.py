"""The list of stages is a line: every stage only looks back."""

from slab_core.stages import BY_NAME, JOB, PLANE, STAGES, plan_steps


def test_every_stage_needs_only_stages_before_it() -> None:
    names = [stage.name for stage in STAGES]
    for place, stage in enumerate(STAGES):
        assert set(stage.inputs) <= set(names[:place])


def test_a_plan_orders_steps_after_what_they_need() -> None:
    for place, step in enumerate(plan_steps(floor_ids=("a", "b"))):
        assert all(need < place for need in step.needs)


def test_a_floor_waits_for_its_own_surface_and_the_takeoff_for_every_floor() -> None:
    steps = plan_steps(floor_ids=("a", "b"))
    by_key = {(step.stage, step.subject): step for step in steps}
    correction = {(steps[n].stage, steps[n].subject) for n in by_key["correction", "a"].needs}
    assert correction == {("rooms", JOB), ("surface", "a"), ("tolerance", "a")}
    takeoff = {(steps[n].stage, steps[n].subject) for n in by_key["takeoff", JOB].needs}
    assert {("correction", "a"), ("correction", "b"), ("layout", "a"), ("layout", "b")} <= takeoff


def test_alternates_multiply_only_the_stages_that_differ_by_them() -> None:
    steps = plan_steps(floor_ids=("a",), alternates=(PLANE, "level"))
    count = {name: sum(step.stage == name for step in steps) for name in BY_NAME}
    assert count.pop("scans") == 0
    assert count == {name: 2 if BY_NAME[name].by_alternate else 1 for name in count}
    level_quote = next(s for s in steps if (s.stage, s.alternate) == ("quote", "level"))
    assert {steps[n].alternate for n in level_quote.needs} == {"level"}


def test_every_scan_is_read_in_a_step_of_its_own_that_all_floors_and_the_levels_wait_for() -> None:
    steps = plan_steps(floor_ids=("a", "b"), scan_ids=("s", "t"))
    scans = [place for place, step in enumerate(steps) if step.stage == "scans"]
    assert [steps[place].subject for place in scans] == ["s", "t"]
    for step in steps:
        if step.stage in ("surveys", "surface"):
            assert set(scans) <= set(step.needs)
