"""Material for the covering: boards, adhesive, what holds trim on, and what is used up in laying."""

from collections.abc import Iterator

from slab_core.layout.ordering import cartons_to_order, to_open_m2
from slab_core.materials.model import Adhesive, Covering, Package
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import Supply, m, m2, rate
from slab_core.takeoff.items import from_item

BOARDS = "boards"
"""Code of the line of boards, one for the whole job."""

TAPE_SPACING_M = 0.76
"""A strip of tape across the rows every 2-3 ft (common practice)."""

AREA_PER_TROWEL_M2 = 45.0
AREA_PER_TUB_M2 = 45.0
"""A notch and a tub of wipes last about 500 ft² (from memory)."""

DAB_SHARE = 0.5
"""Dabs 3-4 in apart take about half of a continuous 1/4 in bead (common practice)."""


def board_supplies(brief: Brief) -> Iterator[Supply]:
    """Everything that is laid or used up in laying."""
    laid = sum(area.laid_m2 for area in brief.areas)
    if laid > 0:
        yield boards(brief, bought_m2=_bought_m2(brief))
        yield _adhesive(brief, laid_m2=laid)
        yield from _used_up(brief, laid_m2=laid)
    yield from _beads(brief)
    carpet = brief.scope.carpet_edge_m
    yield from from_item(
        brief,
        code="tack-strip",
        item="tack-strip",
        net=carpet,
        formula="carpet edge",
        inputs={"carpet edge": m(carpet)},
    )


def carton_of(covering: Covering) -> Package:
    """A carton of boards as a package."""
    return Package(unit="carton", size=covering.carton_m2, size_unit="m2", weight_kg=covering.carton_kg)


def boards(brief: Brief, *, bought_m2: float) -> Supply:
    """Boards for all floors of a job whose plans take `bought_m2` together."""
    covering = brief.covering
    covered = sum(layout.covered_m2 for layout in brief.layouts)
    return Supply(
        code=BOARDS,
        product=covering.product,
        name=covering.name,
        package=carton_of(covering),
        net=covered,
        waste_share=_waste_share(brief, bought_m2=bought_m2),
        packages=cartons_to_order(bought_m2=bought_m2, covering=covering),
        formula="boards of the plan × (1 + beyond the plan) / (1 - culls), in whole cartons + spare cartons",
        inputs={
            "covered": m2(covered),
            "boards": m2(bought_m2),
            "beyond the plan": f"{covering.beyond_plan_share:.2f}",
            "culls": f"{covering.cull_share:.2f}",
            "spare": f"{covering.spare_cartons} cartons",
        },
        stage="layout",
    )


def board_waste_share(brief: Brief) -> float:
    """Boards to open beyond the area covered, as a share of it; whole and spare cartons come on top."""
    return _waste_share(brief, bought_m2=_bought_m2(brief))


def _bought_m2(brief: Brief) -> float:
    return sum(layout.bought_m2 for layout in brief.layouts)


def _waste_share(brief: Brief, *, bought_m2: float) -> float:
    covered = sum(layout.covered_m2 for layout in brief.layouts)
    return to_open_m2(bought_m2=bought_m2, covering=brief.covering) / covered - 1.0 if covered > 0 else 0.0


def adhesive_litres(*, adhesive: Adhesive, glued_m2: float) -> float:
    """Glued area / coverage, without what stays in the pails."""
    return glued_m2 / adhesive.coverage_m2_per_l


def _adhesive(brief: Brief, *, laid_m2: float) -> Supply:
    adhesive = brief.catalogue.adhesive
    return Supply(
        code="adhesive",
        product=adhesive.id,
        name=adhesive.name,
        package=adhesive.package,
        net=adhesive_litres(adhesive=adhesive, glued_m2=laid_m2),
        waste_share=adhesive.loss_share,
        formula="glued area / coverage; what stays in the pails is the waste",
        inputs={
            "glued area": m2(laid_m2),
            "coverage": rate(adhesive.coverage_m2_per_l, "m² a L"),
            "moisture barrier": "yes" if adhesive.moisture_barrier else "no",
        },
        stage="layout",
    )


def _used_up(brief: Brief, *, laid_m2: float) -> Iterator[Supply]:
    for code, item, per_m2, why in (
        (
            "blue-tape",
            "blue-tape",
            1 / TAPE_SPACING_M,
            "m of tape a m²: a strip across the rows every 0.76 m",
        ),
        ("trowel", "trowel", 1 / AREA_PER_TROWEL_M2, "trowels a m²"),
        ("adhesive-wipes", "adhesive-wipes", 1 / AREA_PER_TUB_M2, "tubs a m²"),
    ):
        yield from from_item(
            brief,
            code=code,
            item=item,
            net=laid_m2 * per_m2,
            formula="glued area × use",
            inputs={"glued area": m2(laid_m2), "use": rate(per_m2, why)},
            stage="layout",
        )
    undercut = sum(area.undercut_m for area in brief.areas)
    yield from from_item(
        brief,
        code="masonry-blade",
        item="masonry-blade",
        net=undercut / 15.0,
        formula="hearth / what a blade cuts",
        inputs={"hearth": m(undercut), "blade": "15 m (from memory)"},
        stage="layout",
    )


def _beads(brief: Brief) -> Iterator[Supply]:
    wall = sum(area.wall_m for area in brief.areas)
    base = wall if brief.scope.base_off or brief.scope.base_new else 0.0
    strips = sum(strip.length_m for area in brief.areas for strip in area.transitions)
    yield from from_item(
        brief,
        code="trim-adhesive",
        item="trim-adhesive",
        net=base * DAB_SHARE + strips,
        formula="base × share of a bead in dabs + strips, a full bead",
        inputs={"base": m(base), "share": f"{DAB_SHARE:.2f}", "strips": m(strips)},
        stage="layout",
    )
    undercut = sum(area.undercut_m for area in brief.areas)
    bare = sum(area.ways_out_m() for area in brief.areas) - strips
    yield from from_item(
        brief,
        code="sealant",
        item="sealant",
        net=undercut + max(0.0, bare),
        formula="hearth + openings that lead out without a strip",
        inputs={"hearth": m(undercut), "openings": m(max(0.0, bare))},
        stage="layout",
    )
