"""Work from the checked floor to the hand-over: boards, trim, carpet edge, cleaning, furniture."""

from collections.abc import Iterator

from slab_core.layout.model import Spread
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import MASONRY_SAW
from slab_core.takeoff.doorways import set_transitions
from slab_core.takeoff.entries import Effort, hours, m, m2, rate
from slab_core.takeoff.prepare import furniture


def covering_work(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    """Efforts of one area in the order of work."""
    rates = brief.rates
    yield _by_rate(area, "verify", "floor / rate", area.m2, rates.verify_m2_per_ph, "m²", stage="tolerance")
    yield Effort(
        code="acclimation",
        floor=area.floor,
        phase=area.phase,
        person_hours=0.0,
        formula="a wait",
        inputs={},
    )
    if area.undercut_m > 0:
        yield _undercut(brief, area)
    if area.casing_legs > 0:
        yield _by_rate(area, "casing-legs", "legs / rate", area.casing_legs, rates.casing_legs_per_ph, "legs")
    if area.laid_m2 > 0:
        yield _pre_cut(brief, area)
    for spread in area.spreads:
        yield _spread(brief, area, spread)
    yield from set_transitions(brief, area)
    # Quarter round is nailed on as fast as base (from memory).
    trim_m = area.wall_m * ((brief.scope.base_off or brief.scope.base_new) + brief.scope.quarter_round)
    if trim_m > 0:
        yield _by_rate(area, "trim", "wall / rate", trim_m, rates.base_on_m_per_ph, "m", stage="rooms")
    yield _by_rate(area, "clean", "floor / rate", area.m2, rates.clean_m2_per_ph, "m²", stage="rooms")
    yield from furniture(brief, area=area, code="furniture-in")


def whole_job_work(brief: Brief) -> Iterator[Effort]:
    """Carpet beside the floor and the hand-over."""
    rates, carpet_m = brief.rates, brief.scope.carpet_edge_m
    if carpet_m > 0:
        yield Effort(
            code="carpet-edge",
            floor="",
            phase=0,
            person_hours=carpet_m / rates.carpet_edge_m_per_ph,
            formula="carpet edge / rate",
            inputs={"carpet edge": m(carpet_m), "rate": rate(rates.carpet_edge_m_per_ph, "m a PH")},
        )
    yield Effort(
        code="hand-over",
        floor="",
        phase=0,
        person_hours=rates.hand_over_ph,
        formula="once a job",
        inputs={"hours": hours(rates.hand_over_ph)},
    )


def _by_rate(
    area: WorkArea,
    code: str,
    formula: str,
    quantity: float,
    per_hour: float,
    unit: str,
    stage: str = "layout",
) -> Effort:
    what = formula.split(" / ")[0]
    return Effort(
        code=code,
        floor=area.floor,
        phase=area.phase,
        person_hours=quantity / per_hour,
        formula=formula,
        inputs={what: f"{quantity:.2f} {unit}", "rate": rate(per_hour, f"{unit} a PH")},
        stage=stage,
    )


def _undercut(brief: Brief, area: WorkArea) -> Effort:
    saw_mh = area.undercut_m / brief.rates.undercut_m_per_ph
    return Effort(
        code="undercut",
        floor=area.floor,
        phase=area.phase,
        person_hours=saw_mh,
        machines=((MASONRY_SAW, saw_mh),),
        formula="hearth that the boards meet / rate",
        inputs={
            "hearth": m(area.undercut_m),
            "rate": rate(brief.rates.undercut_m_per_ph, "m a PH"),
        },
        stage="layout",
    )


def _pre_cut(brief: Brief, area: WorkArea) -> Effort:
    """By area, and by the cuts and rips beyond those that the rate has in it. Few cuts at a very quick rate
    take nothing off below nothing."""
    per_m2, cuts = brief.rates.pre_cut_m2_per_ph, brief.rates.cuts
    more_ph = cuts.hours(cuts=area.cuts, ripped_m=area.ripped_m) - cuts.usual_hours(m2=area.laid_m2)
    return Effort(
        code="pre-cut",
        floor=area.floor,
        phase=area.phase,
        person_hours=max(0.0, area.laid_m2 / per_m2 + more_ph),
        formula="boards / rate + (cuts - usual cuts) × time + (rips - usual rips) × time of rips, or 0",
        inputs={
            "boards": m2(area.laid_m2),
            "rate": rate(per_m2, "m² a PH"),
            "cuts": f"{area.cuts:.1f}",
            "usual cuts": f"{cuts.usual_per_m2 * area.laid_m2:.1f}",
            "time": f"{cuts.ph * 60:.2f} min each",
            "rips": m(area.ripped_m),
            "usual rips": m(cuts.usual_rip_m_per_m2 * area.laid_m2),
            "time of rips": f"{cuts.rip_ph_per_m * 60:.2f} min a m",
        },
        stage="layout",
    )


def _spread(brief: Brief, area: WorkArea, spread: Spread) -> Effort:
    rates = brief.rates
    return Effort(
        code="spread",
        floor=area.floor,
        phase=area.phase,
        person_hours=spread.area_m2 / rates.lay_m2_per_ph,
        formula="area of the spread / rate",
        inputs={"area": m2(spread.area_m2), "rate": rate(rates.lay_m2_per_ph, "m² a PH")},
        part=str(spread.order),
        least_people=rates.laying_people,
        stage="layout",
    )
