"""Supplies from the catalogue's items, and what is said when an item is missing there."""

from collections.abc import Iterator

from slab_core.errors import Problem
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import STAGE, Supply

NEEDED = (
    "t-molding", "reducer", "threshold", "base", "trim-adhesive", "sealant", "tack-strip", "patch-compound",
    "screed-pin", "dam-strip", "moisture-probe", "grinding-segments", "cup-wheel", "vacuum-bag",
    "vacuum-filter", "containment-sheet", "masonry-blade", "blue-tape", "trowel", "adhesive-wipes",
)  # fmt: skip
"""Ids of the catalogue's items that a takeoff may ask for."""


def from_item(
    brief: Brief,
    *,
    code: str,
    item: str,
    net: float,
    formula: str,
    inputs: dict[str, str],
    waste_share: float = 0.0,
    packages: int | None = None,
    stage: str = STAGE,
) -> Iterator[Supply]:
    """A supply of a catalogue item; nothing where none is needed or the catalogue has no such item."""
    found = brief.item(item)
    if net <= 0 or found is None:
        return
    yield Supply(
        code=code,
        product=found.id,
        name=found.name,
        package=found.package,
        net=net,
        waste_share=waste_share,
        packages=packages,
        formula=formula,
        inputs=inputs,
        stage=stage,
    )


def missing_items(brief: Brief) -> tuple[Problem, ...]:
    """A finding for each item that the catalogue lacks: whatever calls for it is not in the takeoff."""
    return tuple(
        Problem(
            code="product-missing",
            detail=f"the catalogue has no item “{id}”; if this job calls for it, it is not counted: add it",
            pointer="/catalogue/items",
        )
        for id in (*NEEDED, *(("quarter-round",) if brief.scope.quarter_round else ()))
        if brief.item(id) is None
    )
