"""How many people may work on a task."""

from dataclasses import replace

from slab_core.schedule.people import Choice, choices
from tests.unit.slab_core.schedule.plans import task


def test_every_number_of_people_shares_the_hours() -> None:
    found = choices(task=task("tear-out", 6.0), crew=3)
    assert found == tuple(Choice(people=n, minutes=360 // n) for n in (1, 2, 3))


def test_a_crew_sets_the_most_and_a_small_one_works_as_a_whole() -> None:
    assert [c.people for c in choices(task=task("pour", 6.0), crew=5)] == [3, 4]
    assert choices(task=task("pour", 6.0), crew=2) == (Choice(people=2, minutes=180),)


def test_a_further_person_beside_a_busy_machine_is_no_choice() -> None:
    assert [c.people for c in choices(task=task("grind", 4.0, 4.0), crew=3)] == [1]
    assert [c.minutes for c in choices(task=task("grind", 6.0, 4.0), crew=3)] == [360, 240]


def test_nobody_is_on_a_wait() -> None:
    assert choices(task=task("acclimation", 0.0), crew=3) == (Choice(people=0, minutes=1),)


def test_minutes_are_whole_and_never_too_few() -> None:
    odd = replace(task("tear-out", 1.0), most_people=3)
    assert [c.minutes for c in choices(task=odd, crew=3)] == [60, 30, 20]
    assert choices(task=replace(odd, person_hours=1.01), crew=1) == (Choice(people=1, minutes=61),)
