"""How long a compound stays workable, and how much of a bay the crew can keep wet."""

from math import ceil

from slab_core.materials.model import Climate, Compound
from slab_core.materials.rates_model import Rates

NORMAL_C = 21.1
HALVING_C = 10.0
"""+18 °F halves the time (common practice, no single source)."""


def flow_minutes(*, compound: Compound, climate: Climate) -> float:
    """Minutes in which the compound still heals; the product's own value holds at 70 °F."""
    return float(compound.heals_minutes * 2.0 ** ((NORMAL_C - climate.temperature_c) / HALVING_C))


def area_in_flow_m2(*, depth_m: float, compound: Compound, rates: Rates, climate: Climate) -> float:
    """bags per hour × healing time × yield ÷ depth (common practice, no single source)."""
    hours = flow_minutes(compound=compound, climate=climate) / 60.0
    return rates.bags_per_hour * hours * compound.package.size / depth_m


def sub_bays(*, area_m2: float, depth_m: float, compound: Compound, rates: Rates, climate: Climate) -> int:
    """Parts into which a bay must be divided so that each can be kept wet from end to end."""
    in_flow = area_in_flow_m2(depth_m=depth_m, compound=compound, rates=rates, climate=climate)
    return max(1, ceil(area_m2 / in_flow - 1e-9))
