"""Flatness classes as data, each with its source and whether it was read or recalled."""

from dataclasses import dataclass
from typing import Literal

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
)

BY_CODE: dict[str, FlatnessClass] = {one.code: one for one in CLASSES}
