"""Quantities of a slab that nobody has seen, as they may come true: the building's own rate, shared by all
its floors, and how far each floor is from it."""

from math import exp, sqrt

import numpy as np

from slab_core.materials.slab_kinds import UNEVEN_M2, Believed
from slab_core.numerics.grid import Floats
from slab_core.numerics.streams import stream
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.draws import DRAWS
from slab_core.takeoff.line_draws import Chances
from slab_core.takeoff.unseen.plan import Expected


def unseen_chances(*, brief: Brief, expected: Expected, seed: int) -> Chances:
    """Bags, hours and pour days of every area, in every draw; bags whole, for a crew mixes whole ones."""
    bags = {
        (area.floor, area.phase): np.ceil(
            area.m2 * _bags(expected, area.m2, seed, (area.floor, str(area.phase))) - 1e-9
        )
        for area in brief.areas
        if area.pours
    }
    planned = {(area.floor, area.phase): area.bags() for area in brief.areas if area.pours}
    days = sum(np.ceil(drawn / brief.rates.bags_per_day) for drawn in bags.values())
    return Chances(
        seed=seed,
        count=DRAWS,
        bags=bags,
        ground={plan.floor_id: _ground(brief, expected, seed, plan.floor_id) for plan in brief.plans},
        pours={place: drawn / planned[place] for place, drawn in bags.items()},
        pour_days=np.asarray(days, dtype=np.float64),
    )


def all_bags(chances: Chances) -> Floats:
    """Bags of the whole job, spare apart, shape (count,)."""
    return np.asarray(sum(chances.bags.values(), np.zeros(chances.count)))


def all_hours(brief: Brief, chances: Chances) -> Floats:
    """Hours of the large grinder for height over the whole job, shape (count,)."""
    hours = (plan.grinder_hours * chances.ground[plan.floor_id] for plan in brief.plans)
    return np.asarray(sum(hours, np.zeros(chances.count)))


def _bags(expected: Expected, area_m2: float, seed: int, place: tuple[str, ...]) -> Floats:
    """By the m²; the same slabs are drawn for what is expected and for the most."""
    found = _rate(expected.bags, area_m2, seed, "bags", place)
    if expected.most is None:
        return found
    return np.minimum(found, _rate(expected.most, area_m2, seed, "bags", place))


def _ground(brief: Brief, expected: Expected, seed: int, floor: str) -> Floats:
    """Hours of one floor as a share of the planned ones."""
    if expected.grinding is None:
        return np.ones(DRAWS)
    area_m2 = sum(area.m2 for area in brief.areas if area.floor == floor)
    rate = _rate(expected.grinding, area_m2, seed, "grinding", (floor,))
    return np.asarray(rate / exp(expected.grinding.mean))


def _rate(believed: Believed, area_m2: float, seed: int, what: str, place: tuple[str, ...]) -> Floats:
    """By the m², lognormal."""
    building = stream(seed, "unseen", what).standard_normal(DRAWS)
    own = stream(seed, "unseen", what, *place).standard_normal(DRAWS)
    apart = sqrt(1.0 + 1.0 / believed.slabs) * building + sqrt(UNEVEN_M2 / area_m2) * own
    return np.asarray(np.exp(believed.mean + believed.sd * apart))
