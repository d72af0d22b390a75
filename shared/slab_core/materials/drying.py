"""How drying, flow and working times move with thickness and climate.

Common practice, no single source: at 70 °F and 50 % RH a compound takes wood after 16-24 h up to
1/4 in and 24 h more for each further 1/4 in; below 60 °F everything takes 1.5 to 2 times as long;
flow halves for every 18 °F warmer.
"""

from slab_core.materials.model import Adhesive, Climate, Compound, Primer
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

REFERENCE_C = (70 - 32) / 1.8
COOL_C = (60 - 32) / 1.8
COLD_C = (50 - 32) / 1.8
HALVES_PER_C = 10.0
GREATEST_WORKING_MIN = 90.0
"""Cold does not keep an adhesive open longer than this, unless the product itself says so."""


def cold_factor(*, climate: Climate) -> float:
    """What drying times are multiplied by: 1 from 60 °F up, 1.5 just below it, 2 from 50 °F down."""
    if climate.temperature_c >= COOL_C:
        return 1.0
    depth = (COOL_C - climate.temperature_c) / (COOL_C - COLD_C)
    return 1.5 + 0.5 * min(1.0, depth)


def walk_hours(*, compound: Compound, climate: Climate) -> float:
    """Hours until a pour can be walked on."""
    return compound.walk_hours * cold_factor(climate=climate)


def next_pour_hours(*, compound: Compound, climate: Climate) -> float:
    """Hours until the next lift or the borders can be poured against a pour."""
    return compound.next_pour_hours * cold_factor(climate=climate)


def cover_hours(*, compound: Compound, depth_m: float, climate: Climate) -> float:
    """Hours until wood may be glued on a pour whose greatest depth is `depth_m` (metres)."""
    quarter = INCH_M / 4
    further = max(0.0, depth_m - quarter) / quarter * compound.cover_hours_per_further_quarter_inch
    return (compound.cover_hours + further) * cold_factor(climate=climate)


def primer_dry_hours(*, primer: Primer, climate: Climate) -> float:
    """Hours until a primed slab may be poured on."""
    return primer.dry_hours * cold_factor(climate=climate)


def flow_minutes(*, compound: Compound, climate: Climate) -> float:
    """Minutes during which fresh compound heals into its neighbour at this temperature."""
    return compound.heals_minutes * _slower_when_cool(climate=climate)


def working_minutes(*, adhesive: Adhesive, climate: Climate) -> float:
    """Minutes in which boards must be in the adhesive: shorter when hot or humid.

    Above 50 % RH a moisture-cure adhesive loses a tenth for each further 10 % RH; this slope and
    the halving per 18 °F are from memory.
    """
    humid = 1.0 - max(0.0, climate.humidity - 0.5)
    minutes = adhesive.working_minutes * _slower_when_cool(climate=climate) * humid
    return min(max(GREATEST_WORKING_MIN, adhesive.working_minutes), minutes)


def _slower_when_cool(*, climate: Climate) -> float:
    return float(2.0 ** ((REFERENCE_C - climate.temperature_c) / HALVES_PER_C))
