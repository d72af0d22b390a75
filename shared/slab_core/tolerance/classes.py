"""Flatness classes as data, each with its source and whether it was read or recalled.

Left out: TR34's classes FM1 to FM4. Their limits are known from a secondary page (property E, a difference of
level over a grid of 3 m, and property F, flatness over 300 mm, each for 95 % of the values), but how the two
properties are formed from readings was not read, and a limit without its definition proves nothing.
"""

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from slab_core.tolerance import din_18202
from slab_core.tolerance.model import ClassFNumbers, ClassSource, Rule, Seen

INCH_M = 0.0254
FOOT_M = 0.3048


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatnessClass:
    """Named rules, each of which says where its values come from; or F-numbers (FF, FL) of a whole floor."""

    code: str
    title: str
    rules: tuple[Rule, ...]
    source: str
    seen: Seen
    f_numbers: ClassFNumbers | None = None


def _class(*, code: str, title: str, rules: tuple[Rule, ...], source: str, seen: Seen) -> FlatnessClass:
    named = ClassSource(code=code, source=source, seen=seen)
    own = tuple(replace(rule, of_class=named) for rule in rules)
    return FlatnessClass(code=code, title=title, rules=own, source=source, seen=seen)


_WOOD_GUIDELINE = (
    "NWFA guidelines chapters 4-5 as quoted in Floor Trends magazine, page 111022; "
    "checking both ways is our choice"
)


def _inches(gap_in: float, length_ft: float, *, kind: Literal["both-ways", "gap-only"]) -> Rule:
    return Rule(length_m=length_ft * FOOT_M, gap_m=gap_in * INCH_M, kind=kind)


def _under_2_m(gap_mm: float) -> tuple[Rule, ...]:
    return (Rule(length_m=2.0, gap_m=gap_mm / 1000.0, kind="gap-only"),)


_CONCRETE = (
    ("conventional", "3/4", "1/2"),
    ("moderately-flat", "5/8", "3/8"),
    ("flat", "3/8", "1/4"),
)
"""Inches under 10 ft that every sample keeps, and that 90 % of them keep."""

NINE_IN_TEN = 0.9


def _concrete(name: str, all_in: str, most_in: str) -> FlatnessClass:
    every, most = (_inches(float(Fraction(gap)), 10.0, kind="gap-only") for gap in (all_in, most_in))
    return _class(
        code=f"concrete-{name}",
        title=f"Concrete floor, {name.replace('-', ' ')}, {all_in} in in 10 ft, 90 % of samples {most_in} in",
        rules=(every, replace(most, share=NINE_IN_TEN)),
        source="ACI 117, manual straightedge, gaps that all samples and 90 % of them keep; from memory",
        seen="recalled",
    )


_F_NUMBERS = (
    ("conventional", 20, 15),
    ("moderately-flat", 25, 20),
    ("flat", 35, 25),
    ("very-flat", 45, 35),
    ("super-flat", 60, 40),
)
"""Name, FF and FL that a whole floor reaches; every part of it reaches LOCAL_SHARE of them."""

LOCAL_SHARE = 3 / 5

_F_NUMBERS_SOURCE = "ACI 117-10 table 4.8.5.1, least local values section 4.8.5.3, read in a public copy"


def _by_f_numbers(name: str, ff: float, fl: float) -> FlatnessClass:
    code = f"concrete-{name}-f-numbers"
    named = ClassSource(code=code, source=_F_NUMBERS_SOURCE, seen="read")
    local = (ff * LOCAL_SHARE, fl * LOCAL_SHARE)
    pairs = f"FF {ff:g} and FL {fl:g}, locally FF {local[0]:g} and FL {local[1]:g}"
    return FlatnessClass(
        code=code,
        title=f"Concrete floor, {name.replace('-', ' ')}, {pairs}",
        rules=(),
        source=named.source,
        seen=named.seen,
        f_numbers=ClassFNumbers(whole=(ff, fl), local=local, of_class=named),
    )


def _building(row: int) -> FlatnessClass:
    return _class(
        code=din_18202.code_of(row),
        title=f"DIN 18202 table 3 row {row}, under edges of 0.6 to 15 m as far as they fit",
        rules=din_18202.rules_of(row),
        source=din_18202.SOURCE,
        seen="read",
    )


CLASSES: tuple[FlatnessClass, ...] = (
    _class(
        code="wood-glue-down-10ft",
        title="Glue-down wood floor, 3/16 in in 10 ft",
        rules=(_inches(3 / 16, 10.0, kind="both-ways"),),
        source=_WOOD_GUIDELINE,
        seen="read",
    ),
    _class(
        code="wood-glue-down-6ft",
        title="Glue-down wood floor, 1/8 in in 6 ft",
        rules=(_inches(1 / 8, 6.0, kind="both-ways"),),
        source=_WOOD_GUIDELINE,
        seen="read",
    ),
    _class(
        code="wood-nail-down-10ft",
        title="Wood floor with long fasteners, 1/4 in in 10 ft",
        rules=(_inches(1 / 4, 10.0, kind="both-ways"),),
        source=_WOOD_GUIDELINE,
        seen="read",
    ),
    _class(
        code="resilient-10ft",
        title="Resilient floor, 3/16 in in 10 ft",
        rules=(_inches(3 / 16, 10.0, kind="gap-only"),),
        source="ASTM F710 summary",
        seen="read",
    ),
    _class(
        code="tile-10ft",
        title="Tile, 1/4 in in 10 ft and 1/16 in in 1 ft",
        rules=(_inches(1 / 4, 10.0, kind="gap-only"), _inches(1 / 16, 1.0, kind="gap-only")),
        source="ANSI A108.02, quoted by the US Access Board, Dimensional Tolerances, part III",
        seen="read",
    ),
    _class(
        code="premium-20ft",
        title="1/16 in in 20 ft with 1/32 in in 2 ft",
        rules=(_inches(1 / 16, 20.0, kind="both-ways"), _inches(1 / 32, 2.0, kind="both-ways")),
        source="common practice, no single source",
        seen="practice",
    ),
    _class(
        code="screed-sr1",
        title="Screed SR1, 3 mm under 2 m",
        rules=_under_2_m(3.0),
        source="BS 8204, quoted in concrete.org.uk nuggets 1006 and 1009",
        seen="read",
    ),
    _class(
        code="screed-sr2",
        title="Screed SR2, 5 mm under 2 m",
        rules=_under_2_m(5.0),
        source="BS 8204, quoted in concrete.org.uk nuggets 1006 and 1009",
        seen="read",
    ),
    _class(
        code="screed-sr3",
        title="Screed SR3, 10 mm under 2 m",
        rules=_under_2_m(10.0),
        source="BS 8204, quoted in concrete.org.uk nuggets 1006 and 1009",
        seen="read",
    ),
    *(_concrete(*row) for row in _CONCRETE),
    *(_by_f_numbers(*row) for row in _F_NUMBERS),
    *(_building(row) for row in din_18202.TABLE_MM),
)

BY_CODE: dict[str, FlatnessClass] = {one.code: one for one in CLASSES}
