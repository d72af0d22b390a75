"""What a slab has to be before a product may go on it, as the product's maker states it."""

from dataclasses import dataclass
from typing import Literal

Residue = Literal["none", "cutback", "other-adhesive", "curing-compound", "paint"]
"""What is left on the slab after tear-out and grinding. Cutback is the black adhesive under old tiles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabLimits:
    """Limits of one product; None and () where its maker states nothing.

    `most_humidity_percent` is read in the slab (ASTM F2170), `most_vapour_lb` on it, in pounds from 1,000 ft²
    in 24 h (ASTM F1869); `least_profile` is a concrete surface profile of ICRI 310.2R, 1 to 10. `not_on` are
    residues it does not hold on, `not_with` ids of products that it must not touch.
    """

    most_humidity_percent: float | None = None
    most_vapour_lb: float | None = None
    least_ph: float | None = None
    most_ph: float | None = None
    least_temperature_c: float | None = None
    most_temperature_c: float | None = None
    least_age_days: int | None = None
    least_profile: int | None = None
    not_on: tuple[Residue, ...] = ()
    not_with: tuple[str, ...] = ()
    source: str = "the maker of the product"


NO_LIMITS = SlabLimits()
