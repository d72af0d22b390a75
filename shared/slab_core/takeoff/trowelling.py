"""Work and bags of what is filled with a trowel: patches, skims, what finishing puts on, and the endings of
pours on open floor, and the rails that ramps at doorways are struck off on."""

from collections.abc import Iterator
from math import ceil

from slab_core.correction.model import PatchArea
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.doorways import doorways_of, said
from slab_core.takeoff.entries import Effort, Supply, hours, m, m2, rate


def trowelling(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    """Efforts in the order of work; nothing where the plan trowels nothing, no pour ends on open floor and no
    doorway has a ramp."""
    if area.ending_m > 0 or doorways_of(brief, area, "ramp"):
        yield _dams(brief, area)
    visit_ph = 0.0 if area.pours else brief.rates.hand_mix_ph
    for code in ("patch", "skim"):
        parts = tuple(patch for patch in area.patches if patch.method == code)
        if parts:
            yield _by_hand(brief, area, code=code, parts=parts, visit_ph=visit_ph)
            visit_ph = 0.0


def patch_bags(brief: Brief) -> Iterator[Supply]:
    """Bags opened for each floor and phase; what is left of one goes into the next place."""
    patch = brief.catalogue.patch
    for area in (area for area in brief.areas if area.patches):
        opened, mixed = (sum(p.bags_opened for p in area.patches), sum(p.bags for p in area.patches))
        yield Supply(
            code="patch-bags",
            product=patch.id,
            name=patch.name,
            package=patch.package,
            net=sum(part.volume_m3 for part in area.patches),
            waste_share=patch.waste_share,
            packages=opened,
            left_over=max(0.0, opened - mixed) * patch.package.size,
            floor=area.floor,
            phase=area.phase,
            formula="whole bags of the sum over places: (volume × (1 + waste) + area × texture) / yield",
            inputs={
                **{
                    p.id: f"{p.bags:.2f} bags for {p.volume_m3 * 1000:.1f} L over {p.area_m2:.1f} m²"
                    for p in area.patches
                },
                "texture": f"{patch.texture_m * 1000:.2f} mm",
            },
            stage="correction",
        )


def finish_bags(brief: Brief) -> Iterator[Supply]:
    """Bags for the rounds of finishing that a plan counts on, shared by area; what is skimmed in rounds that
    no probability was asked for is the firm's spare."""
    patch = brief.catalogue.patch
    whole = {area.floor: 0.0 for area in brief.areas}
    for area in brief.areas:
        whole[area.floor] += area.m2
    for area in brief.areas:
        finishing = brief.plan(area.floor).finishing()
        if finishing is None or finishing.finish_patch_m3 <= 0.0:
            continue
        share = area.m2 / whole[area.floor]
        m3, over_m2 = (share * part for part in (finishing.finish_patch_m3, finishing.finish_patch_m2))
        bags = (m3 * (1.0 + patch.waste_share) + over_m2 * patch.texture_m) / patch.package.size
        yield Supply(
            code="finish-bags",
            product=patch.id,
            name=patch.name,
            package=patch.package,
            net=m3,
            waste_share=patch.waste_share,
            packages=(opened := ceil(bags - 1e-9)),
            left_over=max(0.0, opened - bags) * patch.package.size,
            floor=area.floor,
            phase=area.phase,
            formula="whole bags of (volume × (1 + waste) + area × texture) / yield, a mean of draws",
            inputs={
                "bags": f"{bags:.2f}",
                "volume": f"{m3 * 1000:.1f} L",
                "area of all rounds": m2(over_m2),
                "texture": f"{patch.texture_m * 1000:.2f} mm",
            },
            stage="correction",
        )


def _by_hand(
    brief: Brief, area: WorkArea, *, code: str, parts: tuple[PatchArea, ...], visit_ph: float
) -> Effort:
    rates = brief.rates
    inputs = {
        "parts": str(len(parts)),
        "bags": f"{sum(part.bags for part in parts):.2f}",
        "area": f"{sum(part.area_m2 for part in parts):.2f} m²",
        "set-up and wash-out": hours(visit_ph),
    }
    if code == "patch":
        inputs |= {"a patch": hours(rates.patch_ph), "a bag": hours(rates.patch_ph_per_bag)}
        inputs |= _at_once(brief)
    else:
        inputs["rate"] = rate(rates.skim_m2_per_ph, "m² a PH")
    return Effort(
        code=code,
        floor=area.floor,
        phase=area.phase,
        person_hours=sum(part.person_hours for part in parts) + visit_ph,
        formula="patches × hours + bags × hours; the set-up once where nothing is poured"
        if code == "patch"
        else "area / rate; the set-up once where nothing is poured",
        inputs=inputs,
        depth_m=max(part.greatest_depth_m for part in parts),
        stage="correction",
    )


def _at_once(brief: Brief) -> dict[str, str]:
    """How much of a bag one person mixes at most, so that it is placed before it sets."""
    pot_life, ph = brief.catalogue.patch.pot_life_minutes, brief.rates.patch_ph_per_bag
    if pot_life is None or pot_life >= 60.0 * ph:
        return {}
    share = pot_life / (60.0 * ph)
    return {"mix at once at most": f"{share:.2f} of a bag a person, with a pot life of {pot_life:g} min"}


def _dams(brief: Brief, area: WorkArea) -> Effort:
    ramps, per_ph = doorways_of(brief, area, "ramp"), brief.rates.dam_m_per_ph
    return Effort(
        code="dams",
        floor=area.floor,
        phase=area.phase,
        person_hours=area.ending_m / per_ph + sum(ramp.person_hours for ramp in ramps),
        formula="endings of pours on open floor / rate" + (" + hours of ramps" if ramps else ""),
        inputs={"endings": m(area.ending_m), "rate": rate(per_ph, "m a PH"), **said(ramps)},
        stage="correction",
    )
