"""A whole layout: waste, cartons, spreads, and what hangs on doors and hearths."""

import itertools
from dataclasses import replace

import pytest

from slab_core.errors import InputRefused
from slab_core.layout.lay import lay
from slab_core.layout.model import Piece
from slab_core.layout.ordering import cartons_to_order, to_open_m2
from slab_core.layout.spreads import greatest_spread_m2, plan_spreads
from slab_core.layout.trial import chosen_by
from slab_core.layout.warm import warm
from slab_core.materials import starter
from slab_core.materials.model import Climate
from slab_core.numerics.budget import Budget, Stopped
from slab_core.rooms.model import Floor, Obstacle, Opening, Room, Threshold
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FT2
from slab_core.units.lengths import METRES_PER_FOOT as FT
from tests.laid_floors import floor_of, laid, rectangle

HEARTH = Obstacle(id="hearth", kind="hearth", outline=rectangle(8 * FT, 0, 14 * FT, 2 * FT))
LENGTHS = starter.covering().lengths_m
LIVING = floor_of(rectangle(0, 0, 22 * FT, 14 * FT), obstacles=(HEARTH,))


def test_a_room_of_296_square_feet_takes_14_or_15_cartons_and_a_spare() -> None:
    """14 × 22 ft less a hearth of 2 × 6, cartons of 22.5 ft² (common practice, no single source)."""
    layout = laid(LIVING)
    covering = starter.covering()
    assert LIVING.area_m2 / FT2 == pytest.approx(296)
    assert 14 <= layout.cartons - covering.spare_cartons <= 15
    ordered_ft2 = (layout.cartons - covering.spare_cartons) * covering.carton_m2 / FT2
    assert 0.06 <= ordered_ft2 / 296 - 1 <= 0.09
    assert layout.waste_share - layout.waste_bound_share < 0.02


def test_the_least_waste_is_told_in_its_terms() -> None:
    layout = laid(LIVING)
    least = layout.least_waste
    assert least is not None
    lost_m2 = least.ripped_m2 + least.kerf_m2 + least.whole_boards_m2
    assert layout.waste_bound_share == pytest.approx(lost_m2 / (layout.covered_m2 + lost_m2))
    assert min(least.ripped_m2, least.kerf_m2, least.whole_boards_m2) >= 0.0
    assert least.ripped_m2 > 0.0  # no width of this room is a whole number of boards


def test_what_is_ordered_is_never_the_plans_own_least() -> None:
    covering = replace(starter.covering(), carton_m2=1.0, spare_cartons=2)
    assert to_open_m2(bought_m2=97.0, covering=covering) == pytest.approx(102.0)  # 97 · 1.02 / 0.97
    assert cartons_to_order(bought_m2=97.0, covering=covering) == 102 + 2
    assert cartons_to_order(bought_m2=97.01, covering=covering) == 103 + 2


def test_pre_cut_at_70_square_feet_an_hour_and_60_minutes_makes_5_to_8_spreads_of_40_to_60() -> None:
    """Boards 5 in, rows of 22 ft: common practice, no single source."""
    rates = replace(starter.rates(), lay_m2_per_ph=35 * FT2, laying_people=2)
    covering = replace(starter.covering(), direction_deg=0.0)
    layout = lay(
        floor=LIVING,
        covering=covering,
        adhesive=starter.plain_adhesive(),
        rates=rates,
        climate=Climate(),
        seed=3,
        budget=Budget(),
    )
    areas = [spread.area_m2 / FT2 for spread in layout.spreads]
    assert 5 <= len(areas) <= 8
    assert 40 <= sum(areas) / len(areas) <= 60
    assert max(areas) <= 49  # 70 ft²/h × 0.7 × 1 h


def test_spreads_run_through_the_rows_in_order_and_the_first_is_held() -> None:
    spreads = laid(LIVING).spreads
    assert [s.order for s in spreads] == list(range(1, len(spreads) + 1))
    assert spreads[0].first_row == 1
    assert all(b.first_row == a.last_row + 1 for a, b in itertools.pairwise(spreads))
    assert spreads[0].held


def test_a_row_beyond_an_obstacle_needs_a_hold_where_nothing_is_behind_it() -> None:
    island = rectangle(1.0, 1.0, 4.5, 2.0)
    covering = replace(starter.covering(), direction_deg=0.0)
    layout = laid(floor_of(rectangle(0, 0, 5, 4), holes=(island,)), covering=covering)
    assert [s.held for s in layout.spreads].count(True) >= 2
    open_room = laid(floor_of(rectangle(0, 0, 5, 4)), covering=covering)
    assert [s.held for s in open_room.spreads].count(True) == 1
    assert [row for s in open_room.spreads for row in s.held_rows] == [1]
    first, again = (row for s in layout.spreads for row in s.held_rows)
    assert first == 1
    assert layout.lines_m[again - 1] + layout.origin[1] == pytest.approx(2.0, abs=covering.width_m)


def test_hot_air_makes_spreads_smaller() -> None:
    usual = greatest_spread_m2(adhesive=starter.plain_adhesive(), rates=starter.rates(), climate=Climate())
    hot = greatest_spread_m2(
        adhesive=starter.plain_adhesive(), rates=starter.rates(), climate=Climate(temperature_c=31.1)
    )
    assert hot == pytest.approx(usual / 2, rel=0.01)


def test_a_spread_never_crosses_phases() -> None:
    spreads = plan_spreads(
        areas={2: {3: 2.0, 4: 2.0}, 1: {1: 2.0, 2: 2.0, 3: 1.0}},
        held_rows=frozenset({1}),
        greatest_m2=10.0,
        rates=starter.rates(),
    )
    assert [(s.phase, s.first_row, s.last_row) for s in spreads] == [(1, 1, 3), (2, 3, 4)]


def test_a_row_that_fills_more_than_a_spread_is_warned_of() -> None:
    rates = replace(starter.rates(), lay_m2_per_ph=0.3, laying_people=1)
    layout = lay(
        floor=floor_of(rectangle(0, 0, 4, 2)),
        covering=starter.covering(),
        adhesive=starter.plain_adhesive(),
        rates=rates,
        climate=Climate(),
        seed=1,
        budget=Budget(),
    )
    assert "row-larger-than-spread" in {p.code for p in layout.problems}


def test_phases_of_one_floor_split_its_spreads_and_keep_every_square_metre() -> None:
    rooms = tuple(
        Room(id=name, name=name, outline=rectangle(x, 0, x + 3, 4), phase=phase)
        for name, x, phase in (("a", 0.0, 1), ("b", 3.0, 2))
    )
    floor = Floor(id="a", rooms=rooms, shell=rectangle(0, 0, 6, 4), gaps=(), area_m2=24.0, wall_m=20.0)
    layout = laid(floor, covering=replace(starter.covering(), direction_deg=0.0))
    by_phase = {p: sum(s.area_m2 for s in layout.spreads if s.phase == p) for p in (1, 2)}
    assert sum(by_phase.values()) == pytest.approx(layout.covered_m2)
    assert by_phase[1] == pytest.approx(12, abs=1.0)
    assert by_phase[2] == pytest.approx(12, abs=1.0)


def test_the_less_wasteful_of_two_directions_is_kept_unless_one_is_given() -> None:
    floor = floor_of(rectangle(0, 0, 5.33, 2.87))
    waste = {
        deg: laid(floor, covering=replace(starter.covering(), direction_deg=deg)).waste_share
        for deg in (0.0, 90.0)
    }
    chosen = laid(floor)
    assert chosen.waste_share == pytest.approx(min(waste.values()))
    assert waste[chosen.direction_deg] == pytest.approx(min(waste.values()))


def test_the_layout_says_why_its_direction_was_taken() -> None:
    given = laid(
        floor_of(rectangle(0, 0, 5.33, 2.87)), covering=replace(starter.covering(), direction_deg=0.0)
    )
    assert given.chosen_by == "given"
    first, second = (chosen := laid(floor_of(rectangle(0, 0, 5.33, 2.87)))).directions
    assert chosen.chosen_by == "waste"
    assert (first.thin_rip_m, second.thin_rip_m) == (0.0, 0.0)
    assert first.waste_share < second.waste_share
    assert chosen_by((0.0, 3.0), (0.2, 1.0)) == "narrow-rips"
    assert chosen_by((0.2, 1.0), (0.2, 1.0)) == "equal"


def test_the_same_seed_lays_the_same_and_another_seed_another() -> None:
    one, again, other = laid(LIVING, seed=5), laid(LIVING, seed=5), laid(LIVING, seed=6)
    assert one == again
    assert one.pieces != other.pieces


def test_transitions_stand_at_thresholds_that_lead_out_and_flush_ones_need_none() -> None:
    def door(id: str, x: float, threshold: Threshold | None) -> Opening:
        return Opening(id=id, start=(x, 0.0), end=(x + 0.9, 0.0), threshold=threshold)

    floor = floor_of(
        rectangle(0, 0, 6, 4),
        openings=(
            door("to-hall", 0.5, Threshold(low_m=0.0, high_m=0.02, transition="t-molding")),
            door("to-den", 2.0, Threshold(low_m=0.0, high_m=0.02, transition="flush")),
            door("to-yard", 4.0, None),
        ),
    )
    layout = laid(floor)
    assert [(t.opening, t.kind) for t in layout.transitions] == [("room/to-hall", "t-molding")]
    assert layout.transitions[0].length_m == pytest.approx(0.9)
    assert layout.casing_legs == 6


def test_a_hearth_is_undercut_along_the_sides_that_the_boards_meet() -> None:
    assert laid(LIVING).undercut_m == pytest.approx(10 * FT, abs=1e-4)


def test_a_floor_narrower_than_its_gaps_is_refused_in_words() -> None:
    layout = laid(floor_of(rectangle(0, 0, 3, 0.015)))
    assert [(p.code, p.severity) for p in layout.problems] == [("nothing-to-lay", "refusal")]
    assert layout.boards == 0


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"width_m": 0.0}, "covering-without-size"),
        ({"lengths_m": ()}, "covering-without-size"),
        ({"lengths_m": (0.1,)}, "least-piece-too-long"),
    ],
)
def test_a_covering_that_cannot_be_laid_is_refused(change: dict[str, float], code: str) -> None:
    with pytest.raises(InputRefused) as refused:
        laid(LIVING, covering=replace(starter.covering(), **change))  # type: ignore[arg-type]  # on purpose
    assert refused.value.problems[0].code == code
    assert refused.value.problems[0].pointer.startswith("/covering/")


def test_a_spent_budget_still_lays_the_floor_and_says_so() -> None:
    late = Budget(deadline_s=1.0, clock=lambda: 2.0)
    layout = lay(
        floor=LIVING,
        covering=starter.covering(),
        adhesive=starter.plain_adhesive(),
        rates=starter.rates(),
        climate=Climate(),
        seed=1,
        budget=late,
    )
    assert layout.boards > 100
    assert "layout-cut-short" in {p.code for p in layout.problems}


def test_a_cancelled_layout_stops() -> None:
    with pytest.raises(Stopped):
        lay(
            floor=LIVING,
            covering=starter.covering(),
            adhesive=starter.plain_adhesive(),
            rates=starter.rates(),
            climate=Climate(),
            seed=1,
            budget=Budget(stop=lambda: True),
        )


def test_warming_compiles_what_laying_calls() -> None:
    from slab_core.layout.sequence import best_sequence

    warm()
    before = len(best_sequence.signatures)
    laid(floor_of(rectangle(0, 0, 2, 2)))
    assert len(best_sequence.signatures) == before


@pytest.mark.parametrize("seed", range(3))
def test_short_pieces_that_touch_are_counted_and_few(seed: int) -> None:
    layout = laid(LIVING, seed=seed)
    assert layout.short_m == pytest.approx(sum(LENGTHS) / len(LENGTHS) / 2)
    short = [p for p in layout.pieces if p.end_m - p.start_m < layout.short_m]
    pairs = sum(_touch(a, b) for a, b in itertools.combinations(short, 2))
    assert layout.short_pairs == pairs
    assert pairs < len(short) / 8  # about a fifth, where no price is on it


def _touch(a: Piece, b: Piece) -> bool:
    beside = a.row != b.row and abs(a.row - b.row) == 1
    shared = min(a.end_m, b.end_m) - max(a.start_m, b.start_m)
    return (beside and shared > 0.01) or (a.row == b.row and abs(shared) < 1e-9)
