"""Rows gathered into applications of adhesive that are laid before it skins over."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import shapely

from slab_core.layout.frame import Frame
from slab_core.layout.model import Piece, Spread
from slab_core.layout.rows import Stretch
from slab_core.materials.drying import working_minutes
from slab_core.materials.model import Adhesive, Climate
from slab_core.materials.rates_model import Rates
from slab_core.rooms.geometry import room_polygon
from slab_core.rooms.model import Floor

GREATEST_SHARE = 0.7
"""Of the working time; practice plans on 0.6-0.7 of it (common practice, no single source)."""

_BACKED_SHARE = 0.5

RowArea = tuple[int, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreading:
    """How much is laid at once, by whom, and how thick the adhesive under it is."""

    greatest_m2: float
    rates: Rates
    film_m: float

    def spreads(
        self, *, areas: Mapping[int, Mapping[int, float]], stretches: tuple[Stretch, ...]
    ) -> tuple[Spread, ...]:
        """Spreads in laying order. `areas`: phase to row to area (m²); a spread never crosses phases."""
        held = held_rows(stretches=stretches)
        return plan_spreads(areas=areas, held_rows=held, greatest_m2=self.greatest_m2, rates=self.rates)


class Part(Protocol):
    """A piece, or a stretch of a row: where it lies in the turned frame."""

    @property
    def row(self) -> int: ...
    @property
    def start_m(self) -> float: ...
    @property
    def end_m(self) -> float: ...
    @property
    def near_m(self) -> float: ...
    @property
    def far_m(self) -> float: ...


def phases_of(*, floor: Floor, frame: Frame, parts: Sequence[Part]) -> list[int]:
    """The phase of the room that the middle of each part lies in or nearest."""
    rooms = floor.rooms
    if len({room.phase for room in rooms}) == 1:
        return [rooms[0].phase] * len(parts)
    middles = np.array([((p.start_m + p.end_m) / 2, (p.near_m + p.far_m) / 2) for p in parts])
    points = shapely.points(frame.out_of(middles))
    away = np.array([shapely.distance(room_polygon(room), points) for room in rooms])
    return [rooms[i].phase for i in np.argmin(away, axis=0)]


def areas_by_row(
    *, parts: Sequence[Part], phases: Sequence[int], m2: Sequence[float]
) -> dict[int, dict[int, float]]:
    """Phase to row to area, of parts with these phases and areas."""
    areas: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for part, phase, own in zip(parts, phases, m2, strict=True):
        areas[phase][part.row] += own
    return {phase: dict(rows) for phase, rows in areas.items()}


def greatest_spread_m2(*, adhesive: Adhesive, rates: Rates, climate: Climate) -> float:
    """Lay rate × 0.7 × working time."""
    crew_m2_per_h = rates.lay_m2_per_ph * rates.laying_people
    return crew_m2_per_h * GREATEST_SHARE * working_minutes(adhesive=adhesive, climate=climate) / 60


def plan_spreads(
    *,
    areas: Mapping[int, Mapping[int, float]],
    held_rows: frozenset[int],
    greatest_m2: float,
    rates: Rates,
) -> tuple[Spread, ...]:
    """Spreads in laying order. `areas`: phase to row to area (m²); a spread never crosses phases."""
    spreads: list[Spread] = []
    for phase in sorted(areas):
        for rows in _runs(tuple(sorted(areas[phase].items())), greatest=greatest_m2):
            area = sum(m2 for _, m2 in rows)
            spreads.append(
                Spread(
                    order=len(spreads) + 1,
                    phase=phase,
                    first_row=rows[0][0],
                    last_row=rows[-1][0],
                    area_m2=area,
                    minutes=area / (rates.lay_m2_per_ph * rates.laying_people) * 60,
                    held=any(row in held_rows for row, _ in rows),
                    held_rows=tuple(row for row, _ in rows if row in held_rows),
                )
            )
    return tuple(spreads)


def _runs(rows: Sequence[RowArea], *, greatest: float) -> list[list[RowArea]]:
    """The fewest runs of rows, and among those the evenest: the least largest area."""
    count = len(_fill(rows, greatest=greatest))
    low, high = sum(area for _, area in rows) / count, greatest
    for _ in range(30):
        middle = (low + high) / 2
        if len(_fill(rows, greatest=middle)) <= count:
            high = middle
        else:
            low = middle
    return _fill(rows, greatest=high)


def _fill(rows: Sequence[RowArea], *, greatest: float) -> list[list[RowArea]]:
    runs: list[list[RowArea]] = []
    area = 0.0
    for row in rows:
        if not runs or area + row[1] > greatest:
            runs.append([])
            area = 0.0
        runs[-1].append(row)
        area += row[1]
    return runs


def with_pieces(
    *, spreads: tuple[Spread, ...], pieces: Sequence[Piece], phases: Sequence[int]
) -> tuple[Spread, ...]:
    """The spreads with their stacks; `phases` are those of the pieces."""
    numbered = list(enumerate(zip(pieces, phases, strict=True), start=1))
    return tuple(
        replace(
            spread,
            pieces=tuple(
                number
                for number, (piece, phase) in numbered
                if phase == spread.phase and spread.first_row <= piece.row <= spread.last_row
            ),
        )
        for spread in spreads
    )


def held_rows(*, stretches: tuple[Stretch, ...]) -> frozenset[int]:
    """Rows with a stretch that has less than half its length backed by the row before it.

    The first row always; then those that start again behind an obstacle or in a recess.
    """
    return frozenset(s.row for s in stretches if _backed_m(s, stretches) < _BACKED_SHARE * s.length_m())


def _backed_m(stretch: Stretch, stretches: tuple[Stretch, ...]) -> float:
    behind = (s for s in stretches if s.row == stretch.row - 1)
    shared = (min(s.end_m, stretch.end_m) - max(s.start_m, stretch.start_m) for s in behind)
    return sum(max(0.0, m) for m in shared)
