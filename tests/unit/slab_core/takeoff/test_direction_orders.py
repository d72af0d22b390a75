"""What boards are ordered for each direction that a layout tried."""

from dataclasses import replace

from slab_core.layout.model import DirectionChoice, Layout
from slab_core.materials import starter
from slab_core.takeoff.model import Scope, Stock
from tests.laid_floors import floor_of, laid, rectangle
from tests.takeoff_jobs import line, plan, taken_off

COVERING = replace(
    starter.covering(),
    carton_m2=2.0,
    beyond_plan_share=0.0,
    cull_share=0.0,
    spare_cartons=1,
    direction_deg=None,
)
STUDIO = replace(floor_of(rectangle(0, 0, 5.3, 3.4)), id="studio")
HALL = replace(floor_of(rectangle(10, 0, 14, 3)), id="hall")


def _tried(layout: Layout, *bought_m2: float) -> Layout:
    """The layout as if its directions had taken so much, the first its own."""
    choices: tuple[DirectionChoice, ...] = tuple(
        replace(choice, bought_m2=taken) for choice, taken in zip(layout.directions, bought_m2, strict=True)
    )
    return replace(layout, bought_m2=bought_m2[0], directions=choices)


STUDIO_LAID = _tried(laid(STUDIO), 18.9, 20.1)
HALL_LAID = _tried(laid(HALL), 12.9, 14.3)


def test_cartons_are_made_whole_for_the_job_and_the_spare_counts_once() -> None:
    made = taken_off(
        (STUDIO, HALL), (plan(STUDIO), plan(HALL)), layouts=(STUDIO_LAID, HALL_LAID), covering=COVERING
    )
    studio, hall = made.directions
    # 31.8 m² (18.9 + 12.9) are 16 cartons and 1 spare; 33.0 (20.1 + 12.9) and 33.2 (18.9 + 14.3) are 17.
    assert [choice.order for choice in studio.choices] == [17.0, 18.0]
    assert [choice.order for choice in hall.choices] == [17.0, 18.0]
    assert line(made, "boards").order == 17.0
    assert (studio.floor, studio.chosen_by) == ("studio", STUDIO_LAID.chosen_by)
    assert [c.direction_deg for c in studio.choices] == [c.direction_deg for c in STUDIO_LAID.directions]


def test_cartons_in_stock_are_ordered_in_no_direction() -> None:
    stock = (Stock(product=COVERING.product, packages=11),)
    made = taken_off(
        (STUDIO,), (plan(STUDIO),), layouts=(STUDIO_LAID,), covering=COVERING, scope=Scope(stock=stock)
    )
    (studio,) = made.directions
    assert [(choice.order, choice.from_stock) for choice in studio.choices] == [(0.0, 11.0), (1.0, 11.0)]
    assert line(made, "boards").order == 0.0


def test_a_direction_that_was_given_stands_first_and_the_one_across_it_has_its_order_too() -> None:
    given = laid(STUDIO, covering=replace(COVERING, direction_deg=20.0))
    (studio,) = taken_off((STUDIO,), (plan(STUDIO),), layouts=(given,), covering=COVERING).directions
    assert studio.chosen_by == "given"
    assert [choice.direction_deg for choice in studio.choices] == [20.0, 110.0]


def test_a_layout_from_before_directions_has_no_orders_by_direction() -> None:
    before = replace(STUDIO_LAID, directions=(), chosen_by="")
    assert taken_off((STUDIO,), (plan(STUDIO),), layouts=(before,), covering=COVERING).directions == ()
