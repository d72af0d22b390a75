"""The solver against a published optimum and against counting out every order of small cases."""

from datetime import date
from itertools import permutations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from slab_core.numerics.budget import Budget
from slab_core.schedule.axis import SLOT_MINUTES, Axis, axis_of
from slab_core.schedule.calendars import Window
from slab_core.schedule.grid import Places, Puzzle, overdue, puzzle_of
from slab_core.schedule.model import Activity, Lag
from slab_core.schedule.people import Choice
from slab_core.schedule.search import search
from slab_core.schedule.serial import serial

# Job-shop instance ft06 of Fisher and Thompson (1963), optimum 55: (machine, time) by job. From memory.
FT06 = (
    ((2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)),
    ((1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)),
    ((2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)),
    ((1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)),
    ((2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)),
    ((1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)),
)


def _activity(
    id: str, slots: int, people: int = 1, machine: str = "", lags: tuple[Lag, ...] = (), splits: bool = True
) -> Activity:
    return Activity(
        id=id,
        code=id,
        what=id,
        floor="",
        phase=0,
        people=people,
        work_minutes=slots * SLOT_MINUTES,
        person_hours=0.0,
        machine=machine,
        lags=lags,
        splits_over_nights=splits,
    )


def _days(*, count: int, slots: int) -> Axis:
    length = slots * SLOT_MINUTES
    made = (Window(start=n * 1440, end=n * 1440 + length, day=date(2026, 1, n + 1)) for n in range(count))
    return axis_of(windows=tuple(made))


def _puzzle(made: tuple[Activity, ...], axis: Axis, crew: int) -> Puzzle:
    choices = tuple((Choice(people=a.people, minutes=a.work_minutes),) for a in made)
    return puzzle_of(activities=made, choices=choices, crew=crew, longest_day=axis.longest_day())


def test_the_job_shop_of_six_is_solved_to_its_known_optimum() -> None:
    made = []
    for job, steps in enumerate(FT06):
        for step, (machine, length) in enumerate(steps):
            lags = (Lag(after=f"{job}-{step - 1}"),) if step else ()
            made.append(_activity(f"{job}-{step}", length, machine=f"m{machine}", lags=lags))
    axis = _days(count=1, slots=200)
    puzzle = _puzzle(tuple(made), axis, 6)
    answer = search(puzzle=puzzle, axis=axis, budget=Budget())
    assert answer.places.finish == 55
    assert (answer.bound, answer.optimal) == (55, True)


WORK = st.tuples(st.integers(1, 6), st.integers(1, 3), st.sampled_from(["", "saw"]), st.booleans())
WAITS = st.lists(st.tuples(st.booleans(), st.sampled_from([0, 20, 300, 1500])), min_size=10, max_size=10)


@given(st.lists(WORK, min_size=2, max_size=5), WAITS)
@settings(max_examples=40, deadline=None)
def test_small_cases_end_as_early_as_the_best_of_all_orders(
    works: list[tuple[int, int, str, bool]], waits: list[tuple[bool, int]]
) -> None:
    made, pairs = [], iter(waits)
    for later, (slots, people, machine, splits) in enumerate(works):
        chosen = [(earlier, next(pairs)) for earlier in range(later)]
        lags = tuple(Lag(after=str(e), least_minutes=minutes) for e, (used, minutes) in chosen if used)
        made.append(_activity(str(later), slots, people, machine, lags, splits))
    axis = _days(count=20, slots=8)
    puzzle = _puzzle(tuple(made), axis, 3)
    answer = search(puzzle=puzzle, axis=axis, budget=Budget())
    # Without greatest lags some order of placing each as early as possible is best.
    best = min(_in_order(puzzle, axis, order).finish for order in permutations(range(len(works))))
    assert answer.optimal
    assert answer.places.finish == answer.bound == best


def _in_order(puzzle: Puzzle, axis: Axis, order: tuple[int, ...]) -> Places:
    found = serial(puzzle=puzzle, axis=axis, priority=[float(order.index(i)) for i in range(len(order))])
    assert found is not None
    return found


def test_a_greatest_lag_is_kept_by_starting_later_when_that_is_possible() -> None:
    axis = _days(count=5, slots=8)
    made = (
        _activity("first", 2),
        _activity("blocker", 6, people=3, lags=(Lag(after="first"),)),
        _activity(
            "second", 2, lags=(Lag(after="first", least_minutes=0, greatest_minutes=60), Lag(after="blocker"))
        ),
    )
    puzzle = _puzzle(made, axis, 3)
    answer = search(puzzle=puzzle, axis=axis, budget=Budget())
    late = [overdue(axis=axis, link=link, places=answer.places) for link in puzzle.links]
    assert late == [0, 0, 0]
    assert answer.optimal


CHOICES = st.lists(st.tuples(st.integers(2, 9), st.integers(1, 2), st.booleans()), min_size=2, max_size=4)


@given(CHOICES)
@settings(max_examples=30, deadline=None)
def test_the_number_of_people_is_chosen_so_that_the_whole_ends_earliest(
    works: list[tuple[int, int, bool]],
) -> None:
    made = tuple(
        _activity(str(n), effort, lags=(Lag(after=str(n - 1)),) if n and follows else ())
        for n, (effort, _, follows) in enumerate(works)
    )
    choices = tuple(
        tuple(Choice(people=p, minutes=-(-effort // p) * SLOT_MINUTES) for p in range(least, 4))
        for effort, least, _ in works
    )
    axis = _days(count=20, slots=8)
    puzzle = puzzle_of(activities=made, choices=choices, crew=3, longest_day=axis.longest_day())
    answer = search(puzzle=puzzle, axis=axis, budget=Budget())
    best = min(
        _in_order(puzzle.settled_on(modes), axis, order).finish
        for modes in product(*puzzle.modes)
        for order in permutations(range(len(works)))
    )
    assert answer.optimal
    assert answer.places.finish == best
