"""What placing by hand costs: patches, skims, the endings of a pour, and a visit without one."""

from dataclasses import dataclass

from slab_core.correction.unit_costs import labour_with_ways
from slab_core.materials.model import Patch
from slab_core.materials.rates_model import PlanningCosts, Rates

MM = 1e-3
PATCH_OVER_COMPOUND = 1.25
"""A bag of patch is so much dearer than one of compound where nobody says otherwise (from memory)."""

SKIM_PEOPLE = 2
"""So many people trowel side by side (common practice, no single source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacingCosts:
    """Depths in mm, areas in m², money in the job's currency; labour is not in the price of a bag."""

    per_bag: float
    per_ph: float
    bags_per_m2_mm: float
    bags_per_m2_texture: float
    ph_per_patch: float
    ph_per_bag: float
    ph_per_skim_m2: float
    ph_per_visit: float
    per_dam_m: float
    greatest_depth_mm: float
    greatest_patch_m2: float
    greatest_skim_mm: float
    greatest_skim_m2: float

    def bags(self, *, m2_mm: float, m2: float) -> float:
        """Bags really mixed for so much volume over so much area."""
        return m2_mm * self.bags_per_m2_mm + m2 * self.bags_per_m2_texture

    def least_per_m2_mm(self) -> float:
        """No fill by hand costs less for each m² and mm: every m² of a patch bears its share of the largest
        one's hours, every m² of a skim its own, and is no deeper than either may be."""
        bag = self.per_bag * self.bags_per_m2_mm
        drunk = self.per_bag * self.bags_per_m2_texture
        labour = self.per_ph * self.ph_per_bag
        a_patch_m2 = self.per_ph * self.ph_per_patch / self.greatest_patch_m2
        patch = bag + labour * self.bags_per_m2_mm + (drunk + a_patch_m2) / self.greatest_depth_mm
        skim = bag + (drunk + self.per_ph * self.ph_per_skim_m2) / self.greatest_skim_mm
        return min(patch, skim)


def placing_costs(*, rates: Rates, planning: PlanningCosts, patch: Patch) -> PlacingCosts:
    """Costs by hand from the firm's rates; the largest skim is a day's work of two people."""
    per_bag, per_ph = planning.patch_per_bag, labour_with_ways(rates=rates, planning=planning)
    return PlacingCosts(
        per_bag=PATCH_OVER_COMPOUND * planning.compound_per_bag if per_bag is None else per_bag,
        per_ph=per_ph,
        bags_per_m2_mm=(1.0 + patch.waste_share) * MM / patch.package.size,
        bags_per_m2_texture=patch.texture_m / patch.package.size,
        ph_per_patch=rates.patch_ph,
        ph_per_bag=rates.patch_ph_per_bag,
        ph_per_skim_m2=1.0 / rates.skim_m2_per_ph,
        ph_per_visit=rates.hand_mix_ph,
        per_dam_m=per_ph / rates.dam_m_per_ph,
        greatest_depth_mm=patch.greatest_depth_m / MM,
        greatest_patch_m2=patch.greatest_patch_m2,
        greatest_skim_mm=patch.greatest_skim_m / MM,
        greatest_skim_m2=SKIM_PEOPLE * rates.hours_per_day * rates.skim_m2_per_ph,
    )
