"""Flatness classes as data, each with its source and whether it was read or recalled.

Left out: TR34's classes FM1 to FM4. Their limits are known from a secondary page (property E, a difference of
level over a grid of 3 m, and property F, flatness over 300 mm, each for 95 % of the values), but how the two
properties are formed from readings was not read, and a limit without its definition proves nothing.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from slab_core.tolerance.model import Rule

INCH_M = 0.0254
FOOT_M = 0.3048


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatnessClass:
    """Named rules. `seen`: read in a public copy or quotation, recalled from memory, or common practice."""

    code: str
    title: str
    rules: tuple[Rule, ...]
    source: str
    seen: Literal["read", "recalled", "practice"]


_WOOD_GUIDELINE = (
    "NWFA guidelines chapters 4-5 as quoted in Floor Trends magazine, page 111022; "
    "checking both ways is our choice"
)


def _inches(gap_in: float, length_ft: float, *, kind: Literal["both-ways", "gap-only"]) -> Rule:
    return Rule(length_m=length_ft * FOOT_M, gap_m=gap_in * INCH_M, kind=kind)


def _under_2_m(gap_mm: float) -> tuple[Rule, ...]:
    return (Rule(length_m=2.0, gap_m=gap_mm / 1000.0, kind="gap-only"),)


_CONCRETE = (
    ("conventional", 3 / 4),
    ("moderately-flat", 5 / 8),
    ("flat", 3 / 8),
)
"""Inches under 10 ft that every sample keeps; 90 % keep 1/2, 3/8 and 1/4."""


def _concrete(name: str, gap_in: float) -> FlatnessClass:
    return FlatnessClass(
        code=f"concrete-{name}",
        title=f"Concrete floor, {name.replace('-', ' ')}, {gap_in:g} in in 10 ft",
        rules=(_inches(gap_in, 10.0, kind="gap-only"),),
        source="ACI 117, manual straightedge, the gap that all samples keep; from memory",
        seen="recalled",
    )


DIN_LENGTHS_M = (0.1, 1.0, 4.0, 10.0, 15.0)
DIN_18202_MM: dict[int, tuple[float, ...]] = {
    1: (10, 15, 20, 25, 30),
    2: (5, 8, 12, 15, 20),
    3: (2, 4, 10, 12, 15),
    4: (1, 3, 9, 12, 15),
}
"""DIN 18202 table 3, floors: gaps in mm by row. Row 2: base of a screed, 3: finished, 4: finished, higher."""

_DIN_SOURCE = (
    "DIN 18202 table 3, read in a trade handbook's public copy; one secondary page prints 2 mm for row 4 at "
    "1 m; the split of row 2 in newer editions was not read"
)


def din_18202_gap_m(*, row: int, length_m: float) -> float:
    """The gap of a row of table 3 at any length, interpolated and rounded to whole millimetres, in metres.

    Raises ValueError for a length outside the table, which starts at 0.1 m and ends at 15 m.
    """
    if not DIN_LENGTHS_M[0] <= length_m <= DIN_LENGTHS_M[-1]:
        raise ValueError(
            f"the table goes from {DIN_LENGTHS_M[0]} to {DIN_LENGTHS_M[-1]} m, not to {length_m} m"
        )
    gap_mm = float(np.interp(length_m, DIN_LENGTHS_M, DIN_18202_MM[row]))
    return float(np.floor(gap_mm + 0.5)) / 1000.0


def _building(row: int) -> FlatnessClass:
    lengths = DIN_LENGTHS_M[1:]
    return FlatnessClass(
        code=f"din-18202-row-{row}",
        title=f"DIN 18202 table 3 row {row}, at 1, 4, 10 and 15 m",
        rules=tuple(
            Rule(length_m=length, gap_m=din_18202_gap_m(row=row, length_m=length), kind="gap-only")
            for length in lengths
        ),
        source=_DIN_SOURCE,
        seen="read",
    )


CLASSES: tuple[FlatnessClass, ...] = (
    FlatnessClass(
        code="wood-glue-down-10ft",
        title="Glue-down wood floor, 3/16 in in 10 ft",
        rules=(_inches(3 / 16, 10.0, kind="both-ways"),),
        source=_WOOD_GUIDELINE,
        seen="read",
    ),
    FlatnessClass(
        code="wood-glue-down-6ft",
        title="Glue-down wood floor, 1/8 in in 6 ft",
        rules=(_inches(1 / 8, 6.0, kind="both-ways"),),
        source=_WOOD_GUIDELINE,
        seen="read",
    ),
    FlatnessClass(
        code="wood-nail-down-10ft",
        title="Wood floor with long fasteners, 1/4 in in 10 ft",
        rules=(_inches(1 / 4, 10.0, kind="both-ways"),),
        source=_WOOD_GUIDELINE,
        seen="read",
    ),
    FlatnessClass(
        code="resilient-10ft",
        title="Resilient floor, 3/16 in in 10 ft",
        rules=(_inches(3 / 16, 10.0, kind="gap-only"),),
        source="ASTM F710 summary",
        seen="read",
    ),
    FlatnessClass(
        code="tile-10ft",
        title="Tile, 1/4 in in 10 ft and 1/16 in in 1 ft",
        rules=(_inches(1 / 4, 10.0, kind="gap-only"), _inches(1 / 16, 1.0, kind="gap-only")),
        source="ANSI A108.02, quoted by the US Access Board, Dimensional Tolerances, part III",
        seen="read",
    ),
    FlatnessClass(
        code="premium-20ft",
        title="1/16 in in 20 ft with 1/32 in in 2 ft",
        rules=(_inches(1 / 16, 20.0, kind="both-ways"), _inches(1 / 32, 2.0, kind="both-ways")),
        source="common practice, no single source",
        seen="practice",
    ),
    FlatnessClass(
        code="screed-sr1",
        title="Screed SR1, 3 mm under 2 m",
        rules=_under_2_m(3.0),
        source="BS 8204, quoted in concrete.org.uk nuggets 1006 and 1009",
        seen="read",
    ),
    FlatnessClass(
        code="screed-sr2",
        title="Screed SR2, 5 mm under 2 m",
        rules=_under_2_m(5.0),
        source="BS 8204, quoted in concrete.org.uk nuggets 1006 and 1009",
        seen="read",
    ),
    FlatnessClass(
        code="screed-sr3",
        title="Screed SR3, 10 mm under 2 m",
        rules=_under_2_m(10.0),
        source="BS 8204, quoted in concrete.org.uk nuggets 1006 and 1009",
        seen="read",
    ),
    *(_concrete(*row) for row in _CONCRETE),
    *(_building(row) for row in DIN_18202_MM),
)

BY_CODE: dict[str, FlatnessClass] = {one.code: one for one in CLASSES}
