"""DIN 18202 table 3 for floors: the gap by the length of the edge, and the edges that a floor has room for.

The table's gap goes by the distance of the two high points that an edge rests on, so one long edge does not
judge a short dip: under 4 m a trough of 2 m may be as deep as one of 4 m. An inspector lays edges of several
lengths: here the usual ones of 0.6 and of whole metres to 4 (common practice), then lines of 6, 10 and 15 m,
each with its interpolated gap. A round dip of a width between them escapes by 1.6 mm at most in rows 3 and 4,
as the shorter edge sees part of it; half metres too would halve that, and take twice as long wherever plans
are weighed on drawn floors. One of 0.1 m is left out: readings do not lie so close. In a room shorter than an
edge the gap is that of the longest edge which fits, and longer ones are not laid.

Row 2 at 3.5 m is printed as 12 mm there and 11 by the straight line between 1 and 4 m, which is taken.
"""

from dataclasses import replace

import numpy as np

from slab_core.tolerance.model import Rule

TABLE_LENGTHS_M = (0.1, 1.0, 4.0, 10.0, 15.0)
TABLE_MM: dict[int, tuple[float, ...]] = {
    1: (10, 15, 20, 25, 30),
    2: (5, 8, 12, 15, 20),
    3: (2, 4, 10, 12, 15),
    4: (1, 3, 9, 12, 15),
}
"""Gaps in mm by row. Row 2: base of a screed, 3: finished, 4: finished, higher."""

SOURCE = (
    "DIN 18202 table 3, read in a trade handbook's public copy; one secondary page prints 2 mm for row 4 at "
    "1 m; the split of row 2 in newer editions was not read"
)

LAID_M = (0.6, 1.0, 2.0, 3.0, 4.0, 6.0, 10.0, 15.0)

_CODE = "din-18202-row-"


def code_of(row: int) -> str:
    """The code of a row's class."""
    return f"{_CODE}{row}"


def gap_m(*, row: int, length_m: float) -> float:
    """The gap of a row of table 3 at any length, interpolated and rounded to whole millimetres, in metres.

    Raises ValueError for a length outside the table, which starts at 0.1 m and ends at 15 m.
    """
    if not TABLE_LENGTHS_M[0] <= length_m <= TABLE_LENGTHS_M[-1]:
        raise ValueError(
            f"the table goes from {TABLE_LENGTHS_M[0]} to {TABLE_LENGTHS_M[-1]} m, not to {length_m} m"
        )
    gap_mm = float(np.interp(length_m, TABLE_LENGTHS_M, TABLE_MM[row]))
    return float(np.floor(gap_mm + 0.5)) / 1000.0


def rules_of(row: int) -> tuple[Rule, ...]:
    """Every edge that is laid where there is room for it."""
    return tuple(
        Rule(length_m=length, gap_m=gap_m(row=row, length_m=length), kind="gap-only") for length in LAID_M
    )


def has_table(rule: Rule) -> bool:
    """Whether the rule's gap goes by the length of the edge."""
    return rule.of_class is not None and rule.of_class.code.startswith(_CODE)


def that_fit(rules: tuple[Rule, ...], *, longest_m: float) -> tuple[Rule, ...]:
    """The rules on a floor whose longest free stretch is known; those without the table as they are.

    An edge longer than that is as long as the stretch and has its gap. Of edges of one row that allow the
    same gap only the longest is laid: under it no gap is smaller than under the others.
    """
    kept: dict[object, Rule] = {}
    for i, rule in enumerate(rules):
        key, fitted = (i, rule) if not has_table(rule) else _fitted(rule, longest_m=longest_m)
        other = kept.get(key)
        kept[key] = fitted if other is None or fitted.length_m > other.length_m else other
    return tuple(kept.values())


def _fitted(rule: Rule, *, longest_m: float) -> tuple[object, Rule]:
    assert rule.of_class is not None  # has_table said so
    row = int(rule.of_class.code.removeprefix(_CODE))
    length_m = min(rule.length_m, max(longest_m, TABLE_LENGTHS_M[0]))
    allowed_m = gap_m(row=row, length_m=length_m)
    return (row, allowed_m), replace(rule, length_m=length_m, gap_m=allowed_m)
