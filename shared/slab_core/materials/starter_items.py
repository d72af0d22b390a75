"""Trim, consumables and wear parts of the starter catalogue: common practice, no single source."""

from math import pi

from slab_core.materials.model import Item, Package, ProductKind
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M


def _bead_m(*, litres: float, diameter_m: float) -> float:
    """Metres of a round bead that a tube gives: V = π·d²/4 · L."""
    return litres / 1000 / (pi * diameter_m**2 / 4)


def _item(
    id: str, name: str, kind: ProductKind, unit: str, size: float, size_unit: str, weight_kg: float
) -> Item:
    package = Package(unit=unit, size=size, size_unit=size_unit, weight_kg=weight_kg)  # type: ignore[arg-type]  # the table below spells them
    return Item(id=id, name=name, kind=kind, package=package)


def items() -> tuple[Item, ...]:
    """Every product beside compound, primer, adhesive and boards. A size is what one package serves."""
    return (*_trim(), *_for_the_slab(), *_for_the_boards())


def _trim() -> tuple[Item, ...]:
    quarter_inch_bead = _bead_m(litres=0.3, diameter_m=INCH_M / 4)
    return (
        _item("t-molding", "T-molding, 94 in", "transition", "stick", 94 * INCH_M, "m", 1.2),
        _item("reducer", "Reducer, 94 in", "transition", "stick", 94 * INCH_M, "m", 1.3),
        _item("threshold", "Threshold, 94 in", "transition", "stick", 94 * INCH_M, "m", 1.5),
        _item("base", "Base, 16 ft", "base", "stick", 16 * FOOT_M, "m", 3.5),
        _item("quarter-round", "Quarter round, 8 ft", "base", "stick", 8 * FOOT_M, "m", 0.5),
        _item(
            "trim-adhesive", "Flexible trim adhesive", "trim-adhesive", "tube", quarter_inch_bead, "m", 0.45
        ),
        _item("sealant", "Flexible sealant", "sealant", "tube", quarter_inch_bead, "m", 0.45),
        _item("tack-strip", "Tack strip, 4 ft", "consumable", "stick", 4 * FOOT_M, "m", 0.2),
    )


def _for_the_slab() -> tuple[Item, ...]:
    return (
        _item("patch-compound", "Trowelled patch, 10 lb", "patch", "bag", 0.0025, "m3", 4.54),
        _item("screed-pin", "Screed pins, box of 100", "consumable", "box", 100, "each", 1.5),
        _item("dam-strip", "Foam dam strip, 50 ft", "consumable", "roll", 50 * FOOT_M, "m", 0.5),
        _item("moisture-probe", "In-slab humidity probe", "consumable", "each", 1, "each", 0.1),
        _item("grinding-segments", "Grinding segments, a set", "consumable", "set", 1, "each", 1.0),
        _item("cup-wheel", "Cup wheel, 7 in", "consumable", "each", 1, "each", 0.7),
        _item("vacuum-bag", "Dust collector bag", "consumable", "each", 1, "each", 0.1),
        _item("vacuum-filter", "Dust collector filter", "consumable", "each", 1, "each", 1.0),
        _item("containment-sheet", "Plastic sheet, 1,000 ft²", "consumable", "roll", 92.9, "m2", 7.0),
        _item("masonry-blade", "Masonry undercut blade", "consumable", "each", 1, "each", 0.3),
    )


def _for_the_boards() -> tuple[Item, ...]:
    return (
        _item("blue-tape", "Blue tape, 60 yd", "consumable", "roll", 54.9, "m", 0.3),
        _item("trowel", "Notched trowel", "consumable", "each", 1, "each", 0.3),
        _item("adhesive-wipes", "Adhesive wipes, a tub", "consumable", "tub", 1, "each", 1.5),
    )
