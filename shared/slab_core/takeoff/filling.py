"""Work of filling: pins, primer, pours, borders, polish and the finishing loop."""

from collections.abc import Iterator
from dataclasses import replace

from slab_core.correction.model import Pour
from slab_core.materials.rates_model import Rates
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import FLOOR_GRINDER, HAND_GRINDER, MIXING_STATION
from slab_core.takeoff.entries import Effort, hours, m, m2, rate
from slab_core.takeoff.model import lift_part


def filling(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    """Efforts in the order of work; nothing where the plan neither pours nor counts on finishing."""
    if area.pours:
        yield from _pouring(brief, area)
    if finished_m2(brief, area) > 0.0:
        yield _finish(brief, area)


def finished_m2(brief: Brief, area: WorkArea) -> float:
    """What each round of finishing goes over: the whole floor where the plan counts on its rounds, else what
    was poured under a very tight rule."""
    finishing = brief.plan(area.floor).finishing()
    if finishing is not None:
        return area.m2 if finishing.finish_cycles else 0.0
    return area.poured_m2 if brief.tight() and area.pours else 0.0


def finish_rounds(brief: Brief, area: WorkArea) -> int:
    """As many as the plan counts on, else as the firm usually goes round."""
    finishing = brief.plan(area.floor).finishing()
    return brief.rates.finish_cycles if finishing is None else finishing.finish_cycles


def _pouring(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    if area.pin_count(spacing_m=brief.rates.pin_spacing_m):
        yield _pins(brief, area)
    yield from _primings(brief, area)
    for pour in area.pours:
        yield _pour(brief, area, pour)
    if area.border_m > 0:
        yield _borders(brief, area)
    if brief.tight():
        yield _polish(brief, area)


def prime_coats(brief: Brief) -> int:
    """Coats of primer on this slab."""
    primer = brief.catalogue.primer
    return primer.coats_porous if brief.site.porosity == "porous" else primer.coats_dense


def _pins(brief: Brief, area: WorkArea) -> Effort:
    count = area.pin_count(spacing_m=brief.rates.pin_spacing_m)
    return Effort(
        code="pins",
        floor=area.floor,
        phase=area.phase,
        person_hours=count / brief.rates.pins_per_ph,
        formula="screed pins / rate",
        inputs={"pins": str(count), "rate": rate(brief.rates.pins_per_ph, "pins a PH")},
        stage="correction",
    )


def _primings(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    """Each lift has its own: slab is primed for the first lift over it, and a lift for the next."""
    shares = area.slab_shares()
    for lift, share in shares.items():
        prime = _prime(brief, area, poured_m2=area.poured_m2 * share)
        if lift == 1 and len(shares) == 1:
            yield prime
            continue
        again = _again_ph(brief, area, lift)
        yield replace(
            prime,
            person_hours=prime.person_hours + again,
            inputs={**prime.inputs, "on the lift under it": hours(again)} if again else prime.inputs,
            part=lift_part(lift) if len(shares) > 1 else "",
            lift=lift,
        )


def _again_ph(brief: Brief, area: WorkArea, lift: int) -> float:
    """Hours of the one coat on the lift under this one, which those of its pour days hold."""
    day_ph = sum(_day_ph(brief, area, pour) for pour in area.pours if pour.lift == lift)
    return min(area.on_lifts_m2().get(lift, 0.0) / brief.rates.prime_m2_per_ph, day_ph)


def _day_ph(brief: Brief, area: WorkArea, pour: Pour) -> float:
    return brief.rates.pour_day_ph * area.pour_days * pour.bags / max(1, area.bags())


def _prime(brief: Brief, area: WorkArea, *, poured_m2: float) -> Effort:
    coats = prime_coats(brief)
    return Effort(
        code="prime",
        floor=area.floor,
        phase=area.phase,
        person_hours=poured_m2 * coats / brief.rates.prime_m2_per_ph,
        formula="filled area × coats / rate; re-priming is in the hours of a pour day",
        inputs={
            "filled area": m2(poured_m2),
            "coats": str(coats),
            "rate": rate(brief.rates.prime_m2_per_ph, "m² a PH"),
        },
        stage="correction",
    )


def _pour(brief: Brief, area: WorkArea, pour: Pour) -> Effort:
    rates = brief.rates
    placing_h = pour.bags / rates.bags_per_hour
    # The primer under a further lift has to dry before its pour, so that its hours stand by themselves.
    of_lift = sum(one.bags for one in area.pours if one.lift == pour.lift)
    day_ph = _day_ph(brief, area, pour) - _again_ph(brief, area, pour.lift) * pour.bags / max(1, of_lift)
    return Effort(
        code="pour",
        floor=area.floor,
        phase=area.phase,
        person_hours=placing_h * rates.placing_people + day_ph,
        machines=((MIXING_STATION, placing_h),),
        formula="bags / rate × people + the pour's share of its days' set-up, wash-out and re-priming",
        inputs={
            "bags": str(pour.bags),
            "rate": rate(rates.bags_per_hour, "bags an hour"),
            "people": str(rates.placing_people),
            "share of days": hours(day_ph),
            **_batch(brief),
        },
        part=pour.id,
        depth_m=pour.greatest_depth_m,
        lift=pour.lift,
        bags=pour.bags,
        free=pour.method == "free",
        least_people=rates.placing_people,
        stage="correction",
    )


def _batch(brief: Brief) -> dict[str, str]:
    pot_life = brief.catalogue.compound.pot_life_minutes
    if pot_life is None:
        return {}
    return {"a batch": f"{batch_minutes(brief.rates):.1f} min of {pot_life:g} min pot life"}


def batch_minutes(rates: Rates) -> float:
    """From one bag in each mixer to the next: so long until a batch is poured."""
    return 60.0 * rates.mixers / rates.bags_per_hour


def _borders(brief: Brief, area: WorkArea) -> Effort:
    return Effort(
        code="edges",
        floor=area.floor,
        phase=area.phase,
        person_hours=area.border_m / brief.rates.border_m_per_ph,
        formula="border beside the fill / rate, the day after",
        inputs={"border": m(area.border_m), "rate": rate(brief.rates.border_m_per_ph, "m a PH")},
        depth_m=max(pour.greatest_depth_m for pour in area.pours),
        stage="correction",
    )


def _polish(brief: Brief, area: WorkArea) -> Effort:
    machine_mh = area.poured_m2 / brief.rates.polish_m2_per_mh
    edge_mh = area.border_m / brief.rates.edge_grinding_m_per_mh
    return Effort(
        code="polish",
        floor=area.floor,
        phase=area.phase,
        person_hours=machine_mh + edge_mh,
        machines=((FLOOR_GRINDER, machine_mh), (HAND_GRINDER, edge_mh)),
        formula="filled area / rate + border / rate by hand, since the rule is 1/16 in or tighter",
        inputs={
            "filled area": m2(area.poured_m2),
            "rate": rate(brief.rates.polish_m2_per_mh, "m² a mh"),
            "border": m(area.border_m),
            "edge rate": rate(brief.rates.edge_grinding_m_per_mh, "m a mh"),
        },
        stage="correction",
    )


def _finish(brief: Brief, area: WorkArea) -> Effort:
    rates, rounds, over_m2 = brief.rates, finish_rounds(brief, area), finished_m2(brief, area)
    over = "filled area" if brief.plan(area.floor).finishing() is None else "floor area"
    return Effort(
        code="finish",
        floor=area.floor,
        phase=area.phase,
        person_hours=over_m2 * rates.finish_ph_per_m2 * rounds,
        formula=f"{over} × hours × cycles of check, mark, skim or grind, check again",
        inputs={
            over: m2(over_m2),
            "rate": rate(rates.finish_ph_per_m2, "PH a m² and cycle"),
            "cycles": str(rounds),
        },
        stage="correction",
    )
