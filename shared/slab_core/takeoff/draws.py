"""Quantities that may come true: the slab within its errors, yields, coverages and rates, drawn together.

The plan is held fixed: the same places are ground and filled to the same heights, however the slab turns out.
Each source of chance has its own stream, so a change of one thing leaves the draws of the others alone.
"""

import numpy as np

from slab_core.correction.volume_spread import volume_spread
from slab_core.materials.model import Compound
from slab_core.numerics.grid import Floats
from slab_core.numerics.streams import stream
from slab_core.rooms.model import Rooms
from slab_core.surface.model import Surface
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.line_draws import Chances, line_draws
from slab_core.takeoff.model import Quantiles, QuantityDraws, TakeoffLine

DRAWS = 10_000


def quantity_draws(
    *,
    brief: Brief,
    rooms: Rooms,
    surfaces: tuple[Surface, ...],
    lines: tuple[TakeoffLine, ...],
    seed: int,
) -> tuple[QuantityDraws, Quantiles | None]:
    """The draws of every line that varies, and the bags that pours take, by chance; one surface a floor."""
    chances = _chances(brief=brief, rooms=rooms, surfaces=surfaces, seed=seed)
    bags = sum(chances.bags.values(), np.zeros(DRAWS))
    draws = drawn_lines(brief=brief, lines=lines, chances=chances)
    return draws, quantiles(bags) if chances.bags else None


def drawn_lines(*, brief: Brief, lines: tuple[TakeoffLine, ...], chances: Chances) -> QuantityDraws:
    """What is to be ordered of every line that varies: what stock there is comes off what is needed."""
    found = {
        place: np.maximum(0.0, drawn - lines[place].from_stock)
        for place, drawn in line_draws(brief=brief, lines=lines, chances=chances).items()
    }
    line = np.array(sorted(found), dtype=np.int32)
    quantity = np.array([found[k] for k in line.tolist()], dtype=np.float32).reshape(len(line), DRAWS)
    return QuantityDraws(seed=chances.seed, line=line, quantity=quantity)


def quantiles(values: Floats) -> Quantiles:
    """The draws that 50, 80 and 95 % of all keep to: draws themselves, so whole bags stay whole."""
    p50, p80, p95 = np.quantile(values, (0.5, 0.8, 0.95), method="inverted_cdf").tolist()
    return Quantiles(p50=p50, p80=p80, p95=p95)


def _chances(*, brief: Brief, rooms: Rooms, surfaces: tuple[Surface, ...], seed: int) -> Chances:
    compound = brief.catalogue.compound
    least_m = 0.0 if compound.featheredge else compound.least_lift_m
    spread, plans = brief.rates.spreads, {plan.floor_id: plan for plan in brief.plans}
    drawn = {
        floor.id: volume_spread(
            floor=floor, surface=surface, plan=plans[floor.id], least_lift_m=least_m
        ).draws(count=DRAWS, rng=stream(seed, "volumes", floor.id))
        for floor, surface in zip(rooms.floors, surfaces, strict=True)
    }
    per_bag = _median_one(spread.bag_yield, stream(seed, "yield"))
    texture = _median_one(spread.texture, stream(seed, "texture"))
    bags = {
        (area.floor, area.phase): _bags(brief, area, drawn[area.floor], compound, per_bag, texture)
        for area in brief.areas
        if area.pours
    }
    return Chances(
        seed=seed,
        count=DRAWS,
        bags=bags,
        ground={plan.floor_id: _ratio(drawn[plan.floor_id][-1], plan.grind_m3) for plan in brief.plans},
    )


def _bags(
    brief: Brief, area: WorkArea, drawn: Floats, compound: Compound, per_bag: Floats, texture: Floats
) -> Floats:
    """Whole bags over the pours of one area, in every draw."""
    plan = next(plan for plan in brief.plans if plan.floor_id == area.floor)
    total = np.zeros(DRAWS)
    for k, pour in enumerate(plan.pours):
        if pour.phase != area.phase:
            continue
        drunk = texture * (pour.area_m2 * compound.texture_m)
        needed = (drawn[k] * (1.0 + compound.waste_share) + drunk) / (compound.package.size * per_bag)
        total += np.ceil(needed - 1e-9)
    return total


def _median_one(sd: float, rng: np.random.Generator) -> Floats:
    return np.asarray(np.exp(sd * rng.standard_normal(DRAWS)))


def _ratio(drawn: Floats, planned: float) -> Floats:
    """Of what is drawn to what is planned; 1 where nothing is planned."""
    return drawn / planned if planned > 0.0 else np.ones(DRAWS)
