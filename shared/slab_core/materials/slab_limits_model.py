"""What a slab and the air over it have to be before a product may go on, as the product's maker states it."""

from dataclasses import dataclass
from typing import Literal

Residue = Literal["none", "cutback", "other-adhesive", "curing-compound", "paint"]
"""What is left on the slab after tear-out and grinding. Cutback is the black adhesive under old tiles."""

Limit = Literal[
    "humidity",
    "vapour",
    "ph",
    "temperature",
    "age",
    "profile",
    "air-temperature",
    "air-humidity",
    "residue",
    "contact",
]
"""What a maker limits; `contact` is with products that it must not touch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabLimits:
    """Limits of one product; None and () where its maker states nothing.

    `most_humidity_percent` is read in the slab (ASTM F2170), `most_vapour_lb` on it, in pounds from 1,000 ft²
    in 24 h (ASTM F1869); `least_profile` is a concrete surface profile of ICRI 310.2R, 1 to 10. Temperatures
    are the slab's own but for those of the air, whose humidity is relative. `not_on` are residues it does not
    hold on, `not_with` ids of products that it must not touch. A limit that is broken blocks the quote where
    it is one of `blocks`, else it holds the work; as it stands, what only another product helps blocks.
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
    least_air_temperature_c: float | None = None
    most_air_temperature_c: float | None = None
    least_air_humidity_percent: float | None = None
    most_air_humidity_percent: float | None = None
    blocks: tuple[Limit, ...] = ("humidity", "vapour", "residue", "contact")


NO_LIMITS = SlabLimits()

USUAL_POURING = SlabLimits(
    least_air_temperature_c=10.0,
    most_air_temperature_c=(85.0 - 32.0) / 1.8,
    source="common practice, no single source",
)
"""50 to 85 °F: where the maker of a compound or a patch says nothing of the air."""
