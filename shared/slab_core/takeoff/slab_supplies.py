"""Material for the slab: compound by the bag and pour, primer, pins, strips."""

from collections.abc import Iterator
from math import ceil

from slab_core.materials.model import Primer
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import LEFT_OVER, Supply, m, m2, rate
from slab_core.takeoff.filling import prime_coats
from slab_core.takeoff.items import from_item
from slab_core.takeoff.prepare import makes_dust

BORDER_WIDTH_M = 0.23
"""Borders are poured 6-12 in wide beside the screeded field (common practice)."""

PATCH_L_PER_WALL_M = 0.05
"""Tack strip pulls pop-outs along the walls: an ounce or two of patch a foot (from memory)."""

SHEET_SHARE = 0.3
"""Plastic for dust containment, of the floor's area (from memory)."""


def slab_supplies(brief: Brief) -> Iterator[Supply]:
    """Everything that stays in, on or around the slab."""
    yield from _compound(brief)
    yield from _primer(brief)
    yield from _pins_and_strips(brief)
    if brief.scope.removal == "carpet" and "tear-out" not in brief.finished:
        wall = sum(area.wall_m for area in brief.areas)
        yield from from_item(
            brief,
            code="patch",
            item="patch-compound",
            net=wall * PATCH_L_PER_WALL_M / 1000,
            formula="wall × patch for what the tack strip pulled out",
            inputs={"wall": m(wall), "patch": rate(PATCH_L_PER_WALL_M, "L a m")},
        )
    if makes_dust(brief) and "containment" not in brief.finished:
        yield from from_item(
            brief,
            code="containment",
            item="containment-sheet",
            net=brief.floor_m2() * SHEET_SHARE,
            formula="floor × share",
            inputs={"floor": m2(brief.floor_m2()), "share": f"{SHEET_SHARE:.2f}"},
        )


def _compound(brief: Brief) -> Iterator[Supply]:
    """Whole bags for each pour, never rounded again; the spare once for the job. Water is dosed by the bag,
    so a pour's last bag is mixed whole and nothing of it keeps (common practice, no single source)."""
    compound = brief.catalogue.compound
    for area in (area for area in brief.areas if area.pours):
        yield Supply(
            code="compound",
            product=compound.id,
            name=compound.name,
            package=compound.package,
            net=sum(pour.volume_m3 for pour in area.pours),
            waste_share=compound.waste_share,
            packages=area.bags(),
            left_over=0.0,
            floor=area.floor,
            phase=area.phase,
            formula="sum over pours of whole bags: (volume × (1 + waste) + area × texture) / yield",
            inputs={
                **{
                    p.id: f"{p.bags} bags for {p.volume_m3 * 1000:.1f} L over {p.area_m2:.1f} m²"
                    for p in area.pours
                },
                "texture": f"{compound.texture_m * 1000:.2f} mm",
                LEFT_OVER: "nothing: every bag of a pour is mixed whole",
            },
            stage="correction",
        )
    bags = sum(area.bags() for area in brief.areas)
    if bags:
        spare = ceil(bags * compound.spare_share - 1e-9)
        yield Supply(
            code="compound-spare",
            product=compound.id,
            name=f"{compound.name}, spare",
            package=compound.package,
            net=spare * compound.package.size,
            packages=spare,
            left_over=spare * compound.package.size,
            formula="bags × spare share, in whole bags",
            inputs={
                "bags": str(bags),
                "share": f"{compound.spare_share:.2f}",
                LEFT_OVER: f"{spare} {compound.package.unit}, where pours take what is planned",
            },
            stage="correction",
        )


def primer_litres(*, primer: Primer, slab_m2: float, coats: int, porous: bool, reprimed_m2: float) -> float:
    """Σ area × coats / coverage, and one coat on day-old compound, which is porous."""
    coverage = primer.coverage_porous_m2_per_l if porous else primer.coverage_dense_m2_per_l
    return slab_m2 * coats / coverage + reprimed_m2 / primer.coverage_porous_m2_per_l


def reprimed_m2(brief: Brief) -> float:
    """Borders and further lifts, which get a coat of their own."""
    return sum(area.border_m * BORDER_WIDTH_M + area.further_lifts_m2() for area in brief.areas)


def _primer(brief: Brief) -> Iterator[Supply]:
    primer = brief.catalogue.primer
    filled = sum(area.poured_m2 for area in brief.areas)
    again = reprimed_m2(brief)
    if filled <= 0:
        return
    coats, porous = prime_coats(brief), brief.site.porosity == "porous"
    yield Supply(
        code="primer",
        product=primer.id,
        name=primer.name,
        package=primer.package,
        net=primer_litres(primer=primer, slab_m2=filled, coats=coats, porous=porous, reprimed_m2=again),
        formula="filled area × coats / coverage + borders and further lifts primed again, one coat",
        inputs={
            "filled area": m2(filled),
            "coats": str(coats),
            "slab": brief.site.porosity,
            "coverage, porous": rate(primer.coverage_porous_m2_per_l, "m² a L"),
            "coverage, dense": rate(primer.coverage_dense_m2_per_l, "m² a L"),
            "primed again": m2(again),
        },
        stage="correction",
    )


def _pins_and_strips(brief: Brief) -> Iterator[Supply]:
    filled = [area for area in brief.areas if area.pours]
    if not filled:
        return
    pins = sum(area.pin_count(spacing_m=brief.rates.pin_spacing_m) for area in filled)
    yield from from_item(
        brief,
        code="screed-pin",
        item="screed-pin",
        net=float(pins),
        formula="pins set out in the plan",
        inputs={"pins": str(pins)},
        stage="correction",
    )
    border = sum(area.border_m for area in filled)
    ways_out = sum(area.ways_out_m() for area in filled)
    endings = sum(area.ending_m for area in filled)
    yield from from_item(
        brief,
        code="dam-strip",
        item="dam-strip",
        net=border + ways_out + endings,
        formula="walls beside the fill + openings that lead out + endings on open floor",
        inputs={"walls": m(border), "openings": m(ways_out), "endings": m(endings)},
        stage="correction",
    )
