"""An estimate's tasks become tasks of the firm: skills, machines, order, and waits that nobody is at."""

from dataclasses import replace

from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.schedule.firm.job import Means, Work, firm_job
from slab_core.schedule.firm.model import FirmJob
from slab_core.schedule.firm.model import Task as FirmTask
from slab_core.takeoff.codes import TASK
from slab_core.takeoff.model import Hold, Task

START = 29_500_800
MEANS = Means(people=4, machines=frozenset({"floor-grinder"}), day_minutes=480)


def _task(code: str, hours: float, **changes: object) -> Task:
    known = TASK[code]
    made = Task(
        code=code,
        what=known.what,
        floor="f",
        phase=1,
        person_hours=hours,
        machine=known.machine,
        least_people=known.least_people,
        most_people=known.most_people,
    )
    return replace(made, **changes)  # type: ignore[arg-type]  # fields of the task


def _job(*tasks: Task, means: Means = MEANS, delivered: int | None = None) -> FirmJob:
    work = Work(tasks=tasks, rates=starter.rates(), climate=Climate(), catalogue=starter.catalogue())
    return firm_job(id="j", site="s", work=work, means=means, earliest=START, delivered=delivered)


def test_a_task_says_who_settles_what_and_a_hold_stands_at_the_first_that_waits_for_it() -> None:
    vapour = Hold(
        code="slab-vapour",
        what="measure the vapour",
        who="the estimator",
        before=("spread", "prime"),
        rule="",
        source="",
    )
    absent = replace(vapour, before=("skim",))
    tasks = (_task("spread", 9, part="1"), _task("prime", 2, part="f-bay1-lift1"), _task("verify", 1))
    work = Work(
        tasks=tasks,
        rates=starter.rates(),
        climate=Climate(),
        catalogue=starter.catalogue(),
        holds=(vapour, absent),
    )
    made = _by_code(firm_job(id="j", site="s", work=work, means=MEANS, earliest=START))
    assert made["prime"].holds == ("the estimator settles before it begins: measure the vapour",)
    assert made["verify"].holds == ("the crew lead signs the flatness check before any adhesive is opened",)
    assert made["spread"].holds == ()


def _by_code(job: FirmJob) -> dict[str, FirmTask]:
    return {task.id.split("/")[2]: task for task in job.tasks}


def test_slab_work_and_wood_work_ask_for_their_skills_and_cleaning_for_none() -> None:
    made = _by_code(_job(_task("survey", 2), _task("spread", 9, part="1"), _task("clean", 2)))
    assert {code: task.skill for code, task in made.items()} == {
        "survey": "slab",
        "spread": "wood",
        "tape-off": "wood",
        "clean": "any",
    }


def test_a_machine_that_the_firm_does_not_list_is_no_limit() -> None:
    made = _by_code(_job(_task("grind", 2), _task("hand-grind", 1)))
    assert (made["grind"].machine, made["hand-grind"].machine) == ("floor-grinder", "")


def test_people_are_as_many_as_the_task_takes_and_the_largest_crew_has() -> None:
    made = _by_code(_job(_task("pour", 6, part="f-bay1-lift1", bags=10, depth_m=0.01, lift=1)))
    assert [choice.people for choice in made["pour"].choices] == [3, 4]
    assert [choice.minutes for choice in made["pour"].choices] == [120, 90]
    small = replace(MEANS, people=2)
    few = _by_code(_job(_task("pour", 6, part="f-bay1-lift1", bags=10, depth_m=0.01, lift=1), means=small))
    assert [choice.people for choice in few["pour"].choices] == [2]


def test_acclimation_holds_the_boards_back_and_is_no_task() -> None:
    tasks = (_task("verify", 1), _task("acclimation", 0), _task("spread", 9, part="1"))
    job = _job(*tasks)
    assert set(_by_code(job)) == {"verify", "spread", "tape-off"}
    spread = _by_code(job)["spread"]
    assert spread.not_before == START + 48 * 60 + 1
    assert [lag.after for lag in spread.lags] == [_by_code(job)["verify"].id]
    later = _by_code(_job(*tasks, delivered=START + 5 * 1440))["spread"]
    assert later.not_before == START + 5 * 1440 + 48 * 60 + 1


def test_every_task_comes_after_what_it_waits_for() -> None:
    tasks = (_task("clean", 2), _task("spread", 9, part="1"), _task("verify", 1), _task("survey", 1))
    seen: set[str] = set()
    for task in _job(*tasks).tasks:
        assert {lag.after for lag in task.lags} <= seen
        seen.add(task.id)
    assert len(seen) == len(tasks) + 1  # tape is taken off too


def test_work_that_sets_ends_on_its_day_unless_no_day_is_long_enough() -> None:
    prime = _task("prime", 4, part="f-bay1-lift1")
    assert _by_code(_job(prime))["prime"].whole
    long = _job(_task("spread", 40, part="1"))
    assert not _by_code(long)["spread"].whole
