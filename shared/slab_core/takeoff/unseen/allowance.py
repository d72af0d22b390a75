"""What may come to more or less where nobody has seen the slab, what goes with each unit of it, and what a
quick survey through the old floor would tell."""

from collections import defaultdict
from collections.abc import Iterable
from math import sqrt

import numpy as np

from slab_core.materials.slab_kinds_model import SlabKind
from slab_core.numerics.grid import Floats
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import LABOUR, TRIP
from slab_core.takeoff.draws import quantiles
from slab_core.takeoff.line_draws import FILLING, FILLING_SUPPLIES, PARTS, Chances
from slab_core.takeoff.model import Allowance, AllowedQuantity, QuickSurvey, TakeoffLine, UnitPart
from slab_core.takeoff.unseen.draws import all_bags, all_hours

READINGS = (6, 12, 24, 48)
"""Sizes of a quick survey that are weighed: through registers, closets and lifted boards."""

BAGS_VARY, GRINDING_VARIES = 1.0, 3.0
"""What n readings leave unsure of the logarithm is this over √n: fill at a point is spread about its mean by
as much as the mean is, as an exponential is, and what is ground is in fewer places. On 25 invented slabs
(readings to 1.5 mm, noted to 4 in) plans from 48 of them missed the bags by 0.17 and the hours by 0.45."""

HIDDEN_SD = 0.2
"""What readings through an old floor never tell of the logarithm, however many (from memory)."""

_FOR_HEIGHT = ("grind", "hand-grind")
_WITH_BAGS = FILLING | FILLING_SUPPLIES | {"compound", "compound-spare", "mixing"}


def allowance_of(
    *, brief: Brief, kind: SlabKind, chances: Chances, lines: tuple[TakeoffLine, ...]
) -> Allowance:
    """Of the lines as they are planned and the draws of what they may be."""
    bags, hours = all_bags(chances), all_hours(brief, chances)
    quantities = [
        AllowedQuantity(
            code="bags",
            what=f"Bags of {brief.catalogue.compound.name}",
            unit="bag",
            planned=float(sum(area.bags() for area in brief.areas)),
            by_chance=quantiles(bags),
            log_sd=_log_sd(bags),
            parts=_with_bags(brief, lines),
        )
    ]
    if hours.any():
        quantities.append(
            AllowedQuantity(
                code="grinding",
                what="Hours of the large grinder for height",
                unit="mh",
                planned=sum(plan.grinder_hours for plan in brief.plans),
                by_chance=quantiles(hours),
                log_sd=_log_sd(hours),
                parts=_with_hours(brief, lines),
            )
        )
    return Allowance(
        removal=kind.removal,
        age=kind.age,
        area_m2=brief.floor_m2(),
        jobs=kind.bags.seen.jobs,
        prior_slabs=kind.bags.slabs,
        quantities=tuple(quantities),
        surveys=tuple(_survey(brief, readings) for readings in READINGS),
    )


def _log_sd(values: Floats) -> float:
    return float(np.std(np.log(values)))


def _with_bags(brief: Brief, lines: tuple[TakeoffLine, ...]) -> tuple[UnitPart, ...]:
    """All filling and its days, by the bag."""
    bags = sum(area.bags() for area in brief.areas)
    days = sum(plan.pour_days for plan in brief.plans)
    found = [(line.price_code, _used(brief, line)) for line in lines if line.key.code in _WITH_BAGS]
    return _by_unit((*found, (TRIP, float(days))), bags)


def _with_hours(brief: Brief, lines: tuple[TakeoffLine, ...]) -> tuple[UnitPart, ...]:
    """Operator, machines, dust collection and wear, by the large grinder's hour."""
    planned = sum(plan.grinder_hours for plan in brief.plans)
    machines = [line for line in lines if line.unit == "mh" and line.key.code != "dust-collection"]
    found = [(line.price_code, line.order) for line in lines if line.key.code in _FOR_HEIGHT]
    for line in lines:
        driving = [each for each in machines if each.price_code in PARTS.get(line.key.code, ())]
        whole = sum(each.order for each in driving)
        ours = sum(each.order for each in driving if each.key.code in _FOR_HEIGHT)
        if whole > 0.0:
            found.append((line.price_code, _used(brief, line) * ours / whole))
    return _by_unit(found, planned)


def _used(brief: Brief, line: TakeoffLine) -> float:
    """What is used and not what is bought: for one more unit no package is opened anew, and what is in stock
    is used up; but compound is whole bags."""
    primer = brief.catalogue.primer
    found = primer if line.key.product == primer.id else brief.item(line.key.product)
    needed = line.order + line.from_stock
    return needed if found is None else line.net * (1.0 + line.waste_share) / found.package.size


def _by_unit(found: Iterable[tuple[str, float]], planned: float) -> tuple[UnitPart, ...]:
    sums: defaultdict[str, float] = defaultdict(float)
    for code, quantity in found:
        sums[code] += quantity / planned
    return tuple(UnitPart(price_code=code, quantity=sums[code]) for code in sorted(sums) if sums[code] > 0.0)


def _survey(brief: Brief, readings: int) -> QuickSurvey:
    """A visit of its own for one pair of hands, whose way and set-up are those of a trip."""
    hours = readings / brief.rates.survey_readings_per_ph + brief.rates.trip_ph
    return QuickSurvey(
        readings=readings,
        bags_log_sd=sqrt(HIDDEN_SD**2 + BAGS_VARY**2 / readings),
        grinding_log_sd=sqrt(HIDDEN_SD**2 + GRINDING_VARIES**2 / readings),
        parts=(UnitPart(price_code=LABOUR, quantity=hours), UnitPart(price_code=TRIP, quantity=1.0)),
    )
