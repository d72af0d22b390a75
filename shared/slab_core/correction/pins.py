"""Where screed pins stand: two lines over every bay, on which an edge leaves what is planned."""

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import numpy as np

from slab_core.correction.connected import parts_of
from slab_core.correction.nodes import Nodes
from slab_core.correction.strips import BORDER_M
from slab_core.correction.work import SKIN_MM
from slab_core.numerics.grid import Floats, Ints, Mask

BESIDE_STEPS = 1.6
"""Nodes of one row across are no more steps apart, on a turned grid too."""

NEAR_SHARE = 0.25
"""A station so near to an end, as a share of the spacing, is left out where the next is near enough."""


def pin_nodes(*, nodes: Nodes, filled: Mask, top_mm: Floats, spacing_m: float) -> tuple[list[int], ...]:
    """For each bay the nodes that pins stand on, line by line.

    `filled` are the poured nodes, `top_mm` the height that the floor gets. At every station both ends of what
    is filled of a bay's width get a pin, off walls and rim by the border; where the next bay is filled too
    they share the line, and its pins are the later bay's. Stations are where a bay's surface bends along it,
    or even ones, and the ends of each connected part: nowhere farther apart than `spacing_m`.
    """
    rows = _Rows(nodes=nodes, filled=filled, top_mm=top_mm)
    lines: dict[int, int] = {}
    for b, bay in enumerate(nodes.bays.bays):
        stations, near_m = bay.stations_m, nodes.grid.step_m
        if stations is None:
            stations, near_m = (
                rows.even_stations(phase=bay.phase, spacing_m=spacing_m),
                NEAR_SHARE * spacing_m,
            )
        for part in parts_of(nodes=nodes, where=filled & (nodes.bays.of_node == b)):
            for stop in _stops(rows.along[part], stations=stations, spacing_m=spacing_m, near_m=near_m):
                for n, line in rows.ends(part=part, stop=stop):
                    lines[n] = min(line, lines.get(n, line))
    by_bay: tuple[list[int], ...] = tuple([] for _ in nodes.bays.bays)
    for n in sorted(lines, key=lambda n: (lines[n], float(rows.along[n]), float(rows.across[n]))):
        by_bay[int(nodes.bays.of_node[n])].append(n)
    return by_bay


def _stops(along: Floats, *, stations: Floats, spacing_m: float, near_m: float) -> list[float]:
    """Both ends of a part, off its rim, and the stations between that are needed."""
    low, high = float(along.min()), float(along.max())
    first, last = low + BORDER_M, high - BORDER_M
    if first >= last:
        return [(low + high) / 2.0]
    between = stations[(stations > first) & (stations < last)].tolist()
    stops = [first]
    for here, after in pairwise([*between, last]):
        crowded = min(here - stops[-1], after - here) < near_m
        if not crowded or after - stops[-1] > spacing_m + 1e-9:
            stops.append(here)
    return [*stops, last]


@dataclass(slots=True, kw_only=True, eq=False)
class _Rows:
    """Rows of nodes across the bays."""

    nodes: Nodes
    filled: Mask
    top_mm: Floats
    across: Floats
    along: Floats

    def __init__(self, *, nodes: Nodes, filled: Mask, top_mm: Floats) -> None:
        self.nodes, self.filled, self.top_mm = nodes, filled, top_mm
        self.across, self.along = nodes.bays.turned(x=nodes.x, y=nodes.y)

    def even_stations(self, *, phase: int, spacing_m: float) -> Floats:
        """The same for all bays of a phase, so that they meet on the lines that those share."""
        of_bay = np.array([bay.phase for bay in self.nodes.bays.bays], dtype=np.int32)
        along = self.along[self.filled & (of_bay[self.nodes.bays.of_node] == phase)]
        low, high = float(along.min(initial=np.inf)) + BORDER_M, float(along.max(initial=-np.inf)) - BORDER_M
        count = ceil((high - low) / spacing_m - 1e-9) if high > low else 0
        return np.linspace(low, high, count + 1) if count else np.zeros(0)

    def ends(self, *, part: Ints, stop: float) -> list[tuple[int, int]]:
        """The nodes at both ends of each run of the part across at `stop`, with 0 for the lower line of the
        bay that the node is in and 1 for the upper."""
        half = self.nodes.grid.step_m / 2.0
        away = self.along - stop
        near = np.flatnonzero((away > -half) & (away <= half + 1e-9))
        row: Ints = near[np.argsort(self.across[near], kind="stable")].astype(np.int32)
        own: Ints = np.flatnonzero(np.isin(row, part)).astype(np.int32)
        found: list[tuple[int, int]] = []
        start = 0
        for k in range(len(own)):
            if k + 1 == len(own) or not self._passes(row, int(own[k]), int(own[k + 1])):
                found += self._ends_of_run(row, own[start : k + 1])
                start = k + 1
        return found

    def _passes(self, row: Ints, i: int, j: int) -> bool:
        """Whether an edge gets from one filled node of a row to the next over what is left as it is: over
        floor, and over none that stands higher than the fill on both sides."""
        if not self._beside(row[i:j], row[i + 1 : j + 1]).all():
            return False
        ends, between = row[[i, j]], row[i + 1 : j]
        line = np.interp(self.across[between], self.across[ends], self.top_mm[ends])
        return bool((self.top_mm[between] <= line + SKIN_MM).all())

    def _beside(self, one: Ints, other: Ints) -> Mask:
        apart = self.across[other] - self.across[one]
        return np.asarray(apart <= BESIDE_STEPS * self.nodes.grid.step_m, dtype=np.bool_)

    def _ends_of_run(self, row: Ints, run: Ints) -> list[tuple[int, int]]:
        i, j = int(run[0]), int(run[-1])
        across = self.across[row[run]]
        before = i > 0 and self._shared(row[i - 1 : i + 1], other=row[i - 1])
        beyond = j + 1 < len(row) and self._shared(row[j : j + 2], other=row[j + 1])
        low = float(across[0]) + (0.0 if before else BORDER_M)
        high = float(across[-1]) - (0.0 if beyond else BORDER_M)
        if low >= high:
            low = high = float(across[0] if before else across[-1] if beyond else across.mean())
        upper = (int(row[j + 1]), 0) if beyond else (self._nearest(row[run], high), 1)
        return [(self._nearest(row[run], low), 0), upper]

    def _nearest(self, run: Ints, across: float) -> int:
        return int(run[np.abs(self.across[run] - across).argmin()])

    def _shared(self, pair: Ints, *, other: int) -> bool:
        """Whether the `other` of two nodes is filled right beside the one, in the next bay: a shared line."""
        return bool(self._beside(pair[:1], pair[1:]).all() and self.filled[other])
