"""One way of laying a floor: a direction, and one run of the random choice of boards."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from slab_core.layout.boards import Laid, RowNotLaid
from slab_core.layout.frame import Frame, longest_wall_deg, placed_frame
from slab_core.layout.rows import RowPlan, plan_rows
from slab_core.layout.spreads import Spreading, areas_by_row, phases_of
from slab_core.layout.ways_out import ShutIn, shut_in
from slab_core.layout.whole import LAYS_CHOSEN, STALE_CHOSEN, Search, lay_floor
from slab_core.materials.model import Covering
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Floor

_TOO_CLOSE_M2 = 0.1

ChosenBy = Literal["given", "narrow-rips", "waste", "equal"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One direction, laid. `shut` is floor that its spreads leave without a way out."""

    frame: Frame
    plan: RowPlan
    shut: tuple[ShutIn, ...]
    search: Search
    covered_m2: float

    @property
    def laid(self) -> Laid:
        """The boards of the best way that was found."""
        return self.search.best

    @property
    def bought_m2(self) -> float:
        """Area of all boards taken."""
        return self.laid.pile.taken_m * self.search.covering.width_m

    def look_again(self) -> None:
        """Look longer than in the other directions, once this one is chosen."""
        self.search.go_on(stale=STALE_CHOSEN, lays=LAYS_CHOSEN)
        self.search.keep_apart()

    def rank(self) -> tuple[float, float]:
        """Thin rips first, then waste; a joint too close counts as a tenth of a square metre."""
        waste = self.bought_m2 - self.covered_m2 + _TOO_CLOSE_M2 * self.laid.too_close
        return (round(self.plan.thin_rip_m, 3), round(waste, 6))


def both_directions(
    along: Callable[[float, Covering], Trial], *, floor: Floor, covering: Covering
) -> tuple[ChosenBy, tuple[Trial, ...]]:
    """The direction that is taken, laid longest, then the one across it, and why the first is taken.

    A direction that was given is taken, and stands alone where no boards span the rows across it, which need
    not keep to a line that was given for the other ones. Else the direction of the longest wall and the one
    across it are compared.

    Raises
    ------
    RowNotLaid
        where no boards span the rows of a direction that has to be laid.
    """
    if covering.direction_deg is not None:
        taken = along(covering.direction_deg % 180.0, covering)
        taken.look_again()
        return "given", (taken, *_laid_across(along, covering=covering, direction_deg=covering.direction_deg))
    deg = longest_wall_deg(floor=floor)
    trials = sorted((along(deg, covering), along((deg + 90.0) % 180.0, covering)), key=Trial.rank)
    why = chosen_by(trials[0].rank(), trials[1].rank())
    trials[0].look_again()
    return why, tuple(trials)


def _laid_across(
    along: Callable[[float, Covering], Trial], *, covering: Covering, direction_deg: float
) -> tuple[Trial, ...]:
    try:
        return (along((direction_deg + 90.0) % 180.0, replace(covering, line_through=None)),)
    except RowNotLaid:
        return ()


def chosen_by(
    rank: tuple[float, float], other: tuple[float, float]
) -> Literal["narrow-rips", "waste", "equal"]:
    """Why the direction of the better rank was chosen."""
    (thin, waste), (other_thin, other_waste) = rank, other
    if thin != other_thin:
        return "narrow-rips"
    return "waste" if waste != other_waste else "equal"


def lay_along(
    *,
    floor: Floor,
    shape: shapely.Geometry,
    direction_deg: float,
    covering: Covering,
    spreading: Spreading,
    seed: int,
    budget: Budget,
) -> Trial:
    """The best of several ways to lay a floor in one direction: from the wall of the first row, or from the
    other one (the direction is then 180° more) where that shuts in less floor."""
    frame, plan = _rows(shape=shape, direction_deg=direction_deg, covering=covering)
    shut = _shut_in(floor=floor, frame=frame, plan=plan, spreading=spreading)
    if shut:
        other, from_there = _rows(shape=shape, direction_deg=direction_deg + 180.0, covering=covering)
        fewer = _shut_in(floor=floor, frame=other, plan=from_there, spreading=spreading)
        if _area_m2(fewer) < _area_m2(shut):
            frame, plan, shut = other, from_there, fewer
    source = np.random.SeedSequence([seed, *b"layout", *floor.id.encode()])
    rng = np.random.Generator(np.random.PCG64(source))
    search = lay_floor(stretches=plan.stretches, covering=covering, rng=rng, budget=budget)
    return Trial(
        frame=frame,
        plan=plan,
        shut=shut,
        search=search,
        covered_m2=sum(stretch.area_m2 for stretch in plan.stretches),
    )


def _rows(*, shape: shapely.Geometry, direction_deg: float, covering: Covering) -> tuple[Frame, RowPlan]:
    frame, turned = placed_frame(shape=shape, direction_deg=direction_deg)
    line_m = None
    if covering.line_through is not None:
        line_m = float(shapely.get_y(frame.into(shapely.Point(covering.line_through))))
    return frame, plan_rows(shape=turned, covering=covering, line_m=line_m)


def _shut_in(*, floor: Floor, frame: Frame, plan: RowPlan, spreading: Spreading) -> tuple[ShutIn, ...]:
    """By spreads of whole runs; which phase a run belongs to its middle says."""
    phases = phases_of(floor=floor, frame=frame, parts=plan.stretches)
    m2 = [stretch.area_m2 for stretch in plan.stretches]
    areas = areas_by_row(parts=plan.stretches, phases=phases, m2=m2)
    spreads = spreading.spreads(areas=areas, stretches=plan.stretches)
    return shut_in(floor=floor, frame=frame, stretches=plan.stretches, phases=phases, spreads=spreads)


def _area_m2(shut: tuple[ShutIn, ...]) -> float:
    return sum(part.area_m2 for part in shut)
